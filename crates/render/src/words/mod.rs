//! Numbers and sentences as a person reads them.
//!
//! Findings are in mg/dL; the wearer reads one unit, and the change from one to the other happens here alone.

mod beside;
mod caution;
mod checks;
mod compare;
mod drawer;
mod feeds;
mod find;
mod first_days;
mod insulin;
mod lag;
mod left_out;
mod meals;
mod measure;
mod now;
mod number;
mod patterns;
mod pressure;
mod range;
mod review;
mod second_look;
mod sensor;
mod sensor_table;
mod staying;
mod swings;
mod time;
mod trials;
mod trust;
mod trust_effects;
mod trust_group;
mod trust_judged;
mod trust_table;
mod wear;
mod wear_place;
mod wear_record;
mod written;

pub use beside::{beside_answer, beside_figures, beside_hours, beside_name};
pub use caution::Caution;
pub use checks::{checks_answer, checks_basis, checks_by_clock, checks_said, checks_table};
pub(crate) use compare::in_unit;
pub use compare::{
    compare_also_table, compare_answer, compare_basis, compare_difference, compare_head, compare_label,
    compare_less, compare_many, compare_option, compare_sides, compare_state, compare_table,
};
pub use drawer::{
    cost_said, cost_table, lot_name, lot_price, stock_said, stock_table, supply_said, used_up_table,
};
pub use feeds::{CLOCK_UNKNOWN, clock_differs, feed, feed_files, feed_last, feed_troubles};
pub use find::{days_found_said, found_line, sought};
pub use first_days::first_days;
pub use insulin::{insulin_logged, insulin_table};
pub use lag::lag;
pub use left_out::{left_out_low, left_out_said, with_and_without};
pub use meals::{
    MEALS_LISTED, meal_said, meal_table, meals_answer, repeated_table, shrunken_said, timing_said,
};
pub use measure::{Measure, measures};
pub use now::{now_acting, now_answer, now_blood, second_look_came, second_look_sentence};
pub use number::{Shown, hours, percent, plain};
pub use number::{amount, digits, rounded, units};
pub(crate) use number::{extremes, percent_figure, tenths_percent};
pub use patterns::{after_said, dawn_said, pattern_said, patterns_answer};
pub(crate) use pressure::chance;
pub use pressure::{
    RATES_HELP, low_verdict, pressure_account, pressure_event, pressure_likely, pressure_rates,
    pressure_said, rate_table, said_low,
};
pub use range::{Range, RangeRow, Standing, range_rows};
pub use review::{
    DayRow, answer, day_extremes, day_rows, early, episode_count, episode_kind, episode_length, nearby,
    no_usual_day, sufficiency, target_sentence, trace_kind, trace_name, window,
};
pub use second_look::{
    second_look_blood, second_look_chances, second_look_fan, second_look_moment, second_look_score,
};
pub use sensor::{
    day_picture, faults_account, high_or_low, scale_said, sensor_answer, sensor_basis, sensor_facts,
    sensor_faults, sensor_picture, sensor_pressure, sensor_span,
};
pub use sensor_table::sensor_tables;
pub use staying::{STAYING_CAUTION, by_said, staying_differs, staying_said, staying_table};
pub use swings::{
    back_after, grams, habit_said, insulin_said, lows_treated_said, swing_anchor, swing_cost, swing_kind,
    swing_link, swing_pause, swing_said, swing_table, swings_answer, swings_shown, swings_when,
};
pub use time::{
    clock, date, date_and_clock, day, day_and_clock, duration, hours_minutes, iso_date, month,
    month_and_year, percent_of_day, short_date, short_day, short_month, short_weekday, weekday,
    weekday_and_date, which_time,
};
pub use trials::{
    answer_table, bedding_cost_said, bedding_said, given_table, sentence, size_table, trial_head,
    trial_settled, worth_said, worth_when,
};
pub use trust::{
    AgreementRow, agreement_rows, checks_account, criterion, interval_basis, meter, next_check, pairing,
    signed, signed_with_unit, trust_answer, trust_basis,
};
pub use trust_effects::{
    EFFECTS_HELP, EFFECTS_TABLE, EffectRow, EffectSaid, LEVELS_TABLE, effect_rows, effects_rest,
    effects_there, effects_untold,
};
pub use trust_group::{GroupRow, GroupTable, group_tables};
pub use trust_judged::{FAULTS_HELP, fault_said, faults_apart, silences_said};
pub use trust_table::{Head, Table, trust_tables, trust_window, wear_figures, wear_site, wear_start};
pub use wear::{days_said, ends_said, kind_said, plan_table, wear_answer, wear_old, weight_said};
pub use wear_place::{
    at_age_said, body_caption, on_now_name, place_said, places_table, spot_said, spots_offered,
};
pub use wear_record::{
    RECORD_SAID, SKIN_SAID, claim_steps, found_said, lost_table, record_checks, record_checks_said,
    record_facts, record_photos, record_title, record_trace, skin_table,
};
pub use written::{carbohydrate_said, dose_said, written_said};
