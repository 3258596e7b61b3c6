"""The checks of a shelf as one tuple: each takes the draft and yields what rows say against each other."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from shipping.tables.checks import (
    lots,
    names,
    orders,
    packings,
    plausible,
    post,
    rows_at_odds,
    settings,
    turned_days,
    unlike_others,
)
from shipping.tables.shelf import Draft
from shipping.words.problems import Level, Problem, Where

Check = Callable[[Draft], Iterator[Problem]]
CHECKS: tuple[Check, ...] = (
    *(names.keys_are_unique, names.named_species_exist, names.named_instead_exist),
    *(names.populations_are_spelt_right, names.populations_are_one),
    *(names.lots_spell_their_populations_alike, names.named_rows_exist, names.zones_are_zones),
    *(names.named_places_exist, names.named_countries_exist, names.rules_name_a_fish),
    *(names.species_are_named_apart, names.species_are_named_as_rules_name_them),
    *(lots.species_days_are_in_order, lots.species_temperatures_make_sense, lots.lot_days_are_in_order),
    *(lots.lots_are_laid_within_a_season, lots.lots_are_not_doubled, lots.lots_have_eggs_to_sell),
    *(lots.lot_stage_days_are_possible, lots.stages_are_of_their_age, lots.lot_wetting_days_are_in_order),
    *(lots.lots_gone_have_no_eggs, lots.looks_say_something, lots.lot_media_suit_the_species),
    *(lots.lots_are_kept_within_bounds, lots.looks_are_after_laying, lots.stages_never_run_backwards),
    *(lots.recounts_can_be, lots.group_days_are_in_order, lots.arrivals_have_happened),
    *(lots.lots_hold_what_was_laid, lots.lots_are_named_apart, lots.lots_have_a_name_of_their_own),
    *(lots.lots_of_a_fish_are_kept_alike, lots.wetting_days_can_be, lots.looks_say_it_in_columns),
    *(lots.looks_keep_the_warmth, lots.fry_hatch_in_their_time, lots.groups_are_not_doubled),
    *(orders.rows_of_an_order_agree, orders.order_days_can_be, orders.orders_are_not_years_old),
    *(orders.payments_have_happened, orders.lines_are_not_doubled, orders.orders_are_not_doubled),
    *(orders.called_off_is_told_by_day, orders.orders_have_a_name_of_their_own),
    *(orders.cancelled_rows_are_said, orders.letters_are_whole, orders.cells_stand_in_their_columns),
    orders.lines_are_of_the_address,
    *(orders.postcodes_are_of_the_country, orders.addresses_are_written_out),
    *(orders.regions_lie_in_their_country, orders.mails_can_be_written_to),
    *(orders.names_and_streets_are_apart, orders.streets_have_a_number),
    *(orders.buyers_have_a_street_of_their_own, orders.languages_are_of_the_country),
    *(orders.named_services_go_there, orders.papers_are_those_of_the_rules),
    *(orders.wishes_are_not_typed_again, orders.orders_are_no_tests, orders.notes_stand_in_columns),
    *(post.service_days_are_in_order, post.answers_have_happened, post.places_are_named_once),
    *(post.services_have_postage, post.heavier_is_not_cheaper, post.heavier_is_not_thinner),
    *(packings.packings_hold_their_water, packings.packings_suit_their_media),
    *(packings.bags_are_in_fit_boxes, post.rules_are_whole, post.rules_do_not_contradict),
    *(post.services_are_fetched_or_posted, packings.boxes_hold_their_units),
    *(post.weather_runs_from_low_to_high, post.weather_is_of_a_month_or_of_days, post.disruptions_are_whole),
    *(
        packings.starter_insulation_is_measured,
        packings.insulation_is_of_its_walls,
        post.starter_rules_were_looked_up,
    ),
    *(plausible.starter_species_were_read_again, packings.boxes_hold_their_bottle, plausible.losses_can_be),
    plausible.texts_of_services_are_out,
    *(plausible.figures_can_be_meant, packings.packings_weigh_their_water, settings.settings_can_be_meant),
    *(settings.papers_speak_their_languages, plausible.learned_values_hold),
    *(plausible.species_develop_above_their_zero, packings.packings_are_what_they_are_called),
    *(plausible.fresh_water_fish_are_kept_fresh, packings.boxes_weigh_their_card),
    *(post.months_follow_each_other, post.services_days_hang_together),
    *(turned_days.days_are_not_turned_round, plausible.orders_are_paid_within_months),
    *(plausible.buyers_have_a_mail_of_their_own, plausible.prices_are_of_a_size),
    *(plausible.counts_and_prices_stand_in_their_columns, plausible.prices_are_all_or_none),
    *(packings.packings_cost_less_than_the_post, plausible.populations_stand_with_one_species),
    *(plausible.genera_have_one_family, plausible.lots_say_where_they_are_from, plausible.fry_have_had_eyes),
    *(plausible.groups_begin_soon, packings.packings_lose_some, packings.units_are_like_others),
    *(
        packings.boxes_are_of_their_size,
        plausible.fish_are_as_published,
        plausible.claims_are_those_of_the_source,
    ),
    *(plausible.what_is_forbidden_stays_closed, plausible.what_is_to_be_asked_was_answered),
    *(plausible.papers_are_all_named, plausible.open_zones_are_of_one_ground),
    *(plausible.closed_fish_have_a_rule, post.services_are_whole_ways, post.answers_still_count),
    *(
        post.borders_hold_parcels,
        post.postage_is_like_others,
        post.postage_carries_something,
        post.postage_is_in_grams,
    ),
    *(post.zones_lie_together, post.weather_is_of_this_year),
    *(post.weather_is_of_its_place, post.days_are_of_the_distance, post.disruptions_meet_a_way),
    *(unlike_others.packings_are_like_their_kind, unlike_others.learned_values_are_near_the_tables),
    *(unlike_others.lots_are_laid_at_like_rates, unlike_others.lots_are_as_warm_as_their_fish),
    *(unlike_others.lots_are_not_copied, unlike_others.lots_are_named_for_their_population),
    unlike_others.weather_has_every_month_of_its_places,
    *(rows_at_odds.fish_ordered_stand_under_their_own, rows_at_odds.lots_are_named_for_their_fish),
    *(rows_at_odds.lots_of_one_breeder_begin_alike, rows_at_odds.buyers_have_not_exchanged_names),
    *(rows_at_odds.vials_hold_alike, rows_at_odds.months_are_not_exchanged),
    *(unlike_others.months_lie_between_their_neighbours, unlike_others.towns_have_postcodes_of_one_area),
    *(unlike_others.answers_are_not_copied, unlike_others.parts_with_a_law_keep_it),
    *(unlike_others.services_hold_parcels_for_outsiders, unlike_others.names_and_towns_are_not_exchanged),
    *(unlike_others.lines_are_not_copied, unlike_others.eggs_cost_what_others_pay_alike),
    *(unlike_others.stages_of_one_day_agree, settings.the_home_is_known),
    *(settings.the_currency_is_in_use, settings.the_sender_is_the_breeders, settings.lots_may_go_from_home),
)


def problems_across(draft: Draft) -> tuple[Problem, ...]:
    """Every problem that the checks find, in the order of `CHECKS`; of a cell that something was said of
    already, no second question is asked that would stop nothing.
    """
    told: set[tuple[Where, str]] = set()
    problems = []
    for problem in (problem for check in CHECKS for problem in check(draft)):
        cell = (problem.where, problem.column)
        if not (problem.answers and problem.level is Level.NOTICE and cell in told):
            problems.append(problem)
        told.add(cell)
    return tuple(problems)
