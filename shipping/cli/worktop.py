"""The command of the worktop page: a port and an address in, a page served from this computer out."""

from __future__ import annotations

import gc
import ipaddress
import sys
from datetime import date
from typing import TYPE_CHECKING, Annotated

import typer

from shipping.cli.global_options import Edge, folder_of, say, wrong
from shipping.cli.streams import has_every_letter

if TYPE_CHECKING:
    from shipping.worktop.serving import Served

app = typer.Typer()


@app.command()
def worktop(
    context: typer.Context,
    port: Annotated[int, typer.Option(min=0, max=65535, help="The port; 0 is any that is free.")] = 8765,
    listen: Annotated[
        str, typer.Option(help="The address to listen on; only this computer unless named.")
    ] = "127.0.0.1",
) -> None:
    """Serve the week, the packing bench, arrivals, lots and rules as a page for the tablet. Example:
    spawnpost worktop
    """
    # nothing that is imported is ever rubbish, and looking for it would keep the first page waiting
    gc.disable()
    import secrets

    from shipping.papers.page.qr import qr_lines
    from shipping.worktop.serving import serve

    edge: Edge = context.obj
    folder = folder_of(edge)
    try:
        ipaddress.ip_address(listen)
    except ValueError:
        raise wrong(
            "--listen", f"'{listen}' is not an address.", "Write it as 127.0.0.1, or 192.168.1.20."
        ) from None

    def tell(served: Served) -> None:
        lines = [
            f"The worktop is at {served.here}",
            "Every program on this computer can reach it there; other devices cannot.",
            "Stop it with Ctrl+C; nothing that was recorded is lost.",
        ]
        if served.elsewhere:
            lines += ["Whoever has this address may see names and record parcels; the way is not encrypted:"]
            lines += [f"  {address}" for address in served.elsewhere]
            lines[1] = "Every program on this computer can reach it there, and other devices with the key."
            if has_every_letter():
                lines += ["", *qr_lines(served.elsewhere[0])]
        say(edge, {"here": served.here, "elsewhere": list(served.elsewhere), "port": served.port}, lines)
        sys.stdout.flush()
        gc.enable()

    today = None if context.parent is None else context.parent.params.get("today")
    today_of = date.today if today is None else lambda: edge.today
    try:
        serve(
            folder,
            today_of,
            secrets.token_urlsafe(32),
            address=listen,
            port=port,
            hide_names=edge.hide_names,
            tell=tell,
        )
    except OSError as trouble:
        text = f"{listen} port {port} cannot be had: {(trouble.strerror or str(trouble)).lower()}."
        raise wrong("--port", text, "Name another with --port, or stop what is served there.") from None
