"""The checks of a shelf as one tuple: each takes the draft and yields what rows say against each other."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from shipping.tables.checks import addresses as checks_addresses
from shipping.tables.checks import contradictions as checks_contradictions
from shipping.tables.checks import lots as checks_lots
from shipping.tables.checks import names as checks_names
from shipping.tables.checks import orders as checks_orders
from shipping.tables.checks import plausible as checks_plausible
from shipping.tables.checks import post as checks_post
from shipping.tables.draft import Draft
from shipping.words.problems import Problem

Check = Callable[[Draft], Iterator[Problem]]

CHECKS: tuple[Check, ...] = (
    checks_names.keys_are_unique,
    checks_names.named_species_exist,
    checks_names.named_instead_exist,
    checks_names.populations_are_spelt_right,
    checks_names.populations_are_one,
    checks_names.lots_spell_their_populations_alike,
    checks_names.named_rows_exist,
    checks_names.zones_are_zones,
    checks_names.named_places_exist,
    checks_names.named_countries_exist,
    checks_names.rules_name_a_fish,
    checks_names.species_are_named_as_rules_name_them,
    checks_lots.species_days_are_in_order,
    checks_lots.species_temperatures_make_sense,
    checks_lots.lot_days_are_in_order,
    checks_lots.lots_are_laid_within_a_season,
    checks_lots.lots_are_not_doubled,
    checks_lots.lots_have_eggs_to_sell,
    checks_lots.lot_stage_days_are_possible,
    checks_lots.lot_wetting_days_are_in_order,
    checks_lots.lots_gone_have_no_eggs,
    checks_lots.looks_say_something,
    checks_lots.lot_media_suit_the_species,
    checks_lots.lots_are_kept_within_bounds,
    checks_lots.looks_are_after_laying,
    checks_lots.stages_never_run_backwards,
    checks_lots.recounts_can_be,
    checks_lots.group_days_are_in_order,
    checks_lots.arrivals_have_happened,
    checks_orders.rows_of_an_order_agree,
    checks_orders.order_days_can_be,
    checks_orders.orders_are_not_years_old,
    checks_orders.payments_have_happened,
    checks_orders.lines_are_not_doubled,
    checks_orders.orders_are_not_doubled,
    checks_orders.called_off_is_told_by_day,
    checks_orders.orders_have_a_name_of_their_own,
    checks_orders.cancelled_rows_are_said,
    checks_addresses.letters_are_whole,
    checks_addresses.cells_stand_in_their_columns,
    checks_addresses.postcodes_are_of_the_country,
    checks_addresses.addresses_are_written_out,
    checks_orders.regions_lie_in_their_country,
    checks_post.service_days_are_in_order,
    checks_post.answers_have_happened,
    checks_post.places_are_named_once,
    checks_post.services_have_postage,
    checks_post.heavier_is_not_cheaper,
    checks_post.packings_hold_their_water,
    checks_post.packings_suit_their_media,
    checks_post.bags_are_in_fit_boxes,
    checks_post.rules_are_whole,
    checks_post.rules_do_not_contradict,
    checks_post.services_are_fetched_or_posted,
    checks_post.boxes_hold_their_units,
    checks_post.weather_runs_from_low_to_high,
    checks_post.weather_is_of_a_month_or_of_days,
    checks_post.disruptions_are_whole,
    checks_post.starter_insulation_is_measured,
    checks_post.starter_rules_were_looked_up,
    checks_post.starter_species_were_read_again,
    checks_post.boxes_hold_their_bottle,
    checks_plausible.losses_can_be,
    checks_plausible.figures_can_be_meant,
    checks_plausible.packings_weigh_their_water,
    checks_plausible.settings_can_be_meant,
    checks_plausible.papers_speak_their_languages,
    checks_plausible.learned_values_hold,
    checks_contradictions.species_develop_above_their_zero,
    checks_contradictions.packings_are_what_they_are_called,
    checks_contradictions.fresh_water_fish_are_kept_fresh,
    checks_contradictions.boxes_weigh_their_card,
    checks_contradictions.months_follow_each_other,
    checks_contradictions.services_days_hang_together,
    checks_contradictions.orders_are_paid_within_months,
    checks_contradictions.buyers_have_a_mail_of_their_own,
    checks_contradictions.prices_are_of_a_size,
    checks_post.the_home_is_known,
    checks_post.the_sender_is_the_breeders,
    checks_post.lots_may_go_from_home,
)


def problems_across(draft: Draft) -> tuple[Problem, ...]:
    """Every problem that the checks find, in the order of `CHECKS`."""
    return tuple(problem for check in CHECKS for problem in check(draft))
