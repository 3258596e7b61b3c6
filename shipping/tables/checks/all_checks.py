"""The checks of a shelf as one tuple: each takes the draft and yields what rows say against each other."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from shipping.tables.checks import (
    addresses,
    as_published,
    figures,
    learned,
    looks,
    lots,
    misplaced_cells,
    names,
    orders,
    packings,
    rules,
    services,
    settings,
    species,
    weather,
)
from shipping.tables.shelf import Draft
from shipping.words.problems import Level, Problem, Where

Check = Callable[[Draft], Iterator[Problem]]
CHECKS: tuple[Check, ...] = (
    *(names.keys_are_unique, names.named_species_exist, names.named_instead_exist),
    *(species.populations_are_spelt_right, species.populations_are_one),
    *(species.lots_spell_their_populations_alike, names.named_rows_exist, names.zones_are_zones),
    *(names.named_places_exist, names.named_countries_exist, names.rules_name_a_fish),
    *(names.species_are_named_apart, names.species_are_named_as_rules_name_them),
    *(species.species_days_are_in_order, species.species_temperatures_make_sense, lots.lot_days_are_in_order),
    *(lots.lots_are_laid_within_a_season, lots.lots_are_not_doubled, lots.lots_have_eggs_to_sell),
    *(lots.lot_stage_days_are_possible, lots.stages_are_of_their_age, lots.lot_wetting_days_are_in_order),
    *(lots.lots_gone_have_no_eggs, looks.looks_say_something, lots.lot_media_suit_the_species),
    *(lots.lots_are_kept_within_bounds, looks.looks_are_after_laying, looks.stages_never_run_backwards),
    *(looks.recounts_can_be, lots.group_days_are_in_order, learned.arrivals_have_happened),
    *(lots.lots_hold_what_was_laid, names.lots_are_named_apart, names.lots_have_a_name_of_their_own),
    *(lots.lots_of_a_fish_are_kept_alike, lots.wetting_days_can_be, looks.looks_say_it_in_columns),
    *(looks.looks_keep_the_warmth, looks.fry_hatch_in_their_time, lots.groups_are_not_doubled),
    *(orders.rows_of_an_order_agree, orders.order_days_can_be, orders.orders_are_not_years_old),
    *(orders.payments_have_happened, orders.lines_are_not_doubled, orders.orders_are_not_doubled),
    orders.mails_are_not_taken_twice,
    *(misplaced_cells.called_off_is_told_by_day, orders.orders_have_a_name_of_their_own),
    *(orders.cancelled_rows_are_said, addresses.letters_are_whole, addresses.cells_stand_in_their_columns),
    addresses.lines_are_of_the_address,
    *(addresses.postcodes_are_of_the_country, addresses.addresses_are_written_out),
    *(addresses.regions_lie_in_their_country, addresses.mails_can_be_written_to),
    *(addresses.names_and_streets_are_apart, addresses.streets_have_a_number),
    *(addresses.buyers_have_a_street_of_their_own, addresses.languages_are_of_the_country),
    *(orders.named_services_go_there, orders.papers_are_those_of_the_rules),
    *(orders.wishes_are_not_typed_again, orders.orders_are_no_tests, misplaced_cells.notes_stand_in_columns),
    *(services.service_days_are_in_order, services.answers_have_happened, services.places_are_named_once),
    *(services.services_have_postage, services.heavier_is_not_cheaper, services.heavier_is_not_thinner),
    *(packings.packings_hold_their_water, packings.packings_suit_their_media),
    *(packings.bags_are_in_fit_boxes, rules.rules_are_whole, rules.rules_do_not_contradict),
    *(services.services_are_fetched_or_posted, packings.boxes_hold_their_units),
    *(
        weather.weather_runs_from_low_to_high,
        weather.weather_is_of_a_month_or_of_days,
        weather.disruptions_are_whole,
    ),
    *(
        packings.starter_insulation_is_measured,
        packings.insulation_is_of_its_walls,
        rules.starter_rules_were_looked_up,
    ),
    *(as_published.starter_species_were_read_again, packings.boxes_hold_their_bottle),
    as_published.texts_of_services_are_out,
    *(figures.figures_can_be_meant, packings.packings_weigh_their_water, settings.settings_can_be_meant),
    *(settings.papers_speak_their_languages, learned.learned_values_hold),
    packings.packings_are_what_they_are_called,
    *(lots.fresh_water_fish_are_kept_fresh, packings.boxes_weigh_their_card),
    *(weather.months_follow_each_other, services.services_days_hang_together),
    *(misplaced_cells.days_are_not_turned_round, orders.orders_are_paid_within_months),
    *(addresses.buyers_have_a_mail_of_their_own, orders.prices_are_of_a_size),
    *(orders.counts_and_prices_stand_in_their_columns, orders.prices_are_all_or_none),
    *(packings.packings_cost_less_than_the_post, species.populations_stand_with_one_species),
    *(
        species.genera_have_one_family,
        lots.lots_say_where_they_are_from,
        looks.fry_have_had_eyes,
        looks.eyes_show_in_their_time,
    ),
    *(lots.groups_begin_soon, packings.packings_lose_some, packings.units_are_like_others),
    *(
        packings.boxes_are_of_their_size,
        as_published.fish_are_as_published,
        as_published.claims_are_those_of_the_source,
    ),
    *(rules.what_is_forbidden_stays_closed, rules.what_is_to_be_asked_was_answered),
    *(rules.papers_are_all_named, rules.open_zones_are_of_one_ground),
    *(rules.closed_fish_have_a_rule, services.services_are_whole_ways, services.answers_still_count),
    *(
        services.borders_hold_parcels,
        services.postage_is_like_others,
        services.postage_carries_something,
        services.postage_is_in_grams,
    ),
    *(services.zones_lie_together, weather.weather_is_of_this_year),
    *(weather.weather_is_of_its_place, services.days_are_of_the_distance, weather.disruptions_meet_a_way),
    *(packings.packings_are_like_their_kind, learned.learned_values_are_near_the_tables),
    *(lots.lots_are_laid_at_like_rates, lots.lots_are_as_warm_as_their_fish),
    *(lots.lots_are_not_copied, names.lots_are_named_for_their_population),
    weather.weather_has_every_month_of_its_places,
    *(species.fish_ordered_stand_under_their_own, names.lots_are_named_for_their_fish),
    *(names.lots_of_one_breeder_begin_alike, addresses.buyers_have_not_exchanged_names),
    *(packings.vials_hold_alike, weather.months_are_not_exchanged),
    *(weather.months_lie_between_their_neighbours, addresses.towns_have_postcodes_of_one_area),
    *(rules.answers_are_not_copied, rules.parts_with_a_law_keep_it),
    *(services.services_hold_parcels_for_outsiders, addresses.names_and_towns_are_not_exchanged),
    *(orders.lines_are_not_copied, orders.eggs_cost_what_others_pay_alike),
    *(learned.arrivals_are_of_a_size, orders.lines_can_be_filled, orders.latest_days_can_be_met),
    *(services.ways_near_by_are_faster, services.postage_abroad_is_dearer),
    *(misplaced_cells.orders_follow_by_day, misplaced_cells.columns_are_not_sorted_alone),
    misplaced_cells.cells_are_not_drawn_down,
    *(misplaced_cells.prices_stand_in_their_rows, misplaced_cells.temperatures_stand_in_their_rows),
    *(looks.stages_of_one_day_agree, settings.the_home_is_known),
    *(as_published.texts_are_those_of_the_fish, species.food_and_water_are_not_exchanged),
    *(lots.lots_of_a_fish_are_alike_in_salt_and_descent, addresses.postcodes_have_one_town),
    *(services.ways_of_a_service_have_its_steps, rules.bans_are_of_every_medium),
    *(
        names.lots_have_the_code_of_their_fish,
        learned.arrivals_are_of_lines_there_may_be,
        misplaced_cells.notes_are_no_cells,
    ),
    *(settings.the_currency_is_in_use, settings.the_sender_is_the_breeders, settings.lots_may_go_from_home),
)
#: What a row names is looked for whatever else is wrong with the row.
OF_NAMES: tuple[Check, ...] = (
    *(names.named_species_exist, names.named_instead_exist, species.populations_are_spelt_right),
    *(names.named_rows_exist, names.zones_are_zones, names.named_places_exist, names.named_countries_exist),
    names.rules_name_a_fish,
)


def problems_across(draft: Draft, with_partial_rows: Draft | None = None) -> tuple[Problem, ...]:
    """Every problem that the checks find, in the order of `CHECKS`; of a cell that something was said of
    already, or in the same words of its row, no second question is asked that would stop nothing.

    ``with_partial_rows`` has what could be read of rows with mistakes beside the others: what those name is
    looked for too.
    """
    whole = with_partial_rows or draft
    told: set[tuple[Where, str]] = set()
    problems = []
    for problem in (problem for check in CHECKS for problem in check(whole if check in OF_NAMES else draft)):
        same = {(problem.where, problem.column), (problem.where, problem.text)}
        if not (problem.answers and problem.level is Level.NOTICE and same & told):
            problems.append(problem)
        told |= same
    return tuple(problems)
