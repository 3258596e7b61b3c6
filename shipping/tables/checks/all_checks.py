"""The checks of a shelf as one tuple: each takes the draft and yields what rows say against each other."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from shipping.tables.checks import buyers, clutches, journeys, lots, names, orders, plausible, post, published
from shipping.tables.shelf import Draft
from shipping.words.problems import Level, Problem, Where

Check = Callable[[Draft], Iterator[Problem]]

CHECKS: tuple[Check, ...] = (
    names.keys_are_unique,
    names.named_species_exist,
    names.named_instead_exist,
    names.populations_are_spelt_right,
    names.populations_are_one,
    names.lots_spell_their_populations_alike,
    names.named_rows_exist,
    names.zones_are_zones,
    names.named_places_exist,
    names.named_countries_exist,
    names.rules_name_a_fish,
    names.species_are_named_as_rules_name_them,
    lots.species_days_are_in_order,
    lots.species_temperatures_make_sense,
    lots.lot_days_are_in_order,
    lots.lots_are_laid_within_a_season,
    lots.lots_are_not_doubled,
    lots.lots_have_eggs_to_sell,
    lots.lot_stage_days_are_possible,
    lots.lot_wetting_days_are_in_order,
    lots.lots_gone_have_no_eggs,
    lots.looks_say_something,
    lots.lot_media_suit_the_species,
    lots.lots_are_kept_within_bounds,
    lots.looks_are_after_laying,
    lots.stages_never_run_backwards,
    lots.recounts_can_be,
    lots.group_days_are_in_order,
    lots.arrivals_have_happened,
    orders.rows_of_an_order_agree,
    orders.order_days_can_be,
    orders.orders_are_not_years_old,
    orders.payments_have_happened,
    orders.lines_are_not_doubled,
    orders.orders_are_not_doubled,
    orders.called_off_is_told_by_day,
    orders.orders_have_a_name_of_their_own,
    orders.cancelled_rows_are_said,
    orders.letters_are_whole,
    orders.cells_stand_in_their_columns,
    orders.postcodes_are_of_the_country,
    orders.addresses_are_written_out,
    orders.regions_lie_in_their_country,
    post.service_days_are_in_order,
    post.answers_have_happened,
    post.places_are_named_once,
    post.services_have_postage,
    post.heavier_is_not_cheaper,
    post.packings_hold_their_water,
    post.packings_suit_their_media,
    post.bags_are_in_fit_boxes,
    post.rules_are_whole,
    post.rules_do_not_contradict,
    post.services_are_fetched_or_posted,
    post.boxes_hold_their_units,
    post.weather_runs_from_low_to_high,
    post.weather_is_of_a_month_or_of_days,
    post.disruptions_are_whole,
    post.starter_insulation_is_measured,
    post.starter_rules_were_looked_up,
    post.starter_species_were_read_again,
    post.boxes_hold_their_bottle,
    plausible.losses_can_be,
    plausible.figures_can_be_meant,
    plausible.packings_weigh_their_water,
    plausible.settings_can_be_meant,
    plausible.papers_speak_their_languages,
    plausible.learned_values_hold,
    plausible.species_develop_above_their_zero,
    plausible.packings_are_what_they_are_called,
    plausible.fresh_water_fish_are_kept_fresh,
    plausible.boxes_weigh_their_card,
    plausible.months_follow_each_other,
    plausible.services_days_hang_together,
    plausible.orders_are_paid_within_months,
    plausible.buyers_have_a_mail_of_their_own,
    plausible.prices_are_of_a_size,
    plausible.prices_are_all_or_none,
    plausible.packings_cost_less_than_the_post,
    plausible.populations_stand_with_one_species,
    plausible.genera_have_one_family,
    plausible.lots_say_where_they_are_from,
    plausible.fry_have_had_eyes,
    plausible.groups_begin_soon,
    plausible.packings_lose_some,
    plausible.boxes_are_of_their_size,
    published.fish_are_as_published,
    published.what_is_forbidden_stays_closed,
    published.closed_fish_have_a_rule,
    clutches.lots_hold_what_was_laid,
    clutches.lots_are_named_apart,
    clutches.lots_have_a_name_of_their_own,
    clutches.lots_of_a_fish_are_kept_alike,
    clutches.wetting_days_can_be,
    clutches.looks_say_it_in_columns,
    clutches.looks_keep_the_warmth,
    clutches.fry_hatch_in_their_time,
    clutches.groups_are_not_doubled,
    buyers.mails_can_be_written_to,
    buyers.names_and_streets_are_apart,
    buyers.buyers_have_a_street_of_their_own,
    buyers.languages_are_of_the_country,
    buyers.named_services_go_there,
    buyers.papers_are_those_of_the_rules,
    buyers.wishes_are_not_typed_again,
    buyers.orders_are_no_tests,
    buyers.notes_stand_in_columns,
    journeys.services_are_whole_ways,
    journeys.answers_still_count,
    journeys.borders_hold_parcels,
    journeys.postage_is_like_others,
    journeys.weather_is_of_this_year,
    journeys.disruptions_meet_a_way,
    post.the_home_is_known,
    post.the_sender_is_the_breeders,
    post.lots_may_go_from_home,
)


def problems_across(draft: Draft) -> tuple[Problem, ...]:
    """Every problem that the checks find, in the order of `CHECKS`; of a cell that something was said of
    already, no second question is asked that would stop nothing.
    """
    told: set[tuple[Where, str]] = set()
    found = []
    for problem in (problem for check in CHECKS for problem in check(draft)):
        cell = (problem.where, problem.column)
        if not (problem.answers and problem.level is Level.NOTICE and cell in told):
            found.append(problem)
        told.add(cell)
    return tuple(found)
