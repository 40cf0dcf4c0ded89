"""What a screen or a message says: sentences from views, in the shop's words, on the shop's clock, with its units.

Pure functions, all of them reached as ``words.name``. A site of None (a shop that has not said where it is) gives
metric units and UTC, named as such.
"""

# ruff: noqa: F401

from service.local_time import (
    ago,
    clock_time,
    date_and_time,
    dated,
    day_name,
    hour_marks,
    is_between,
    local,
    long_day,
    midnights,
    span,
    start_of_day,
    working_hours,
    zone_named,
    zone_of,
)
from service.words.air import air_line, freshness_line, guessing_line, sensor_line, swing_line
from service.words.audit import air_fault_line, coat_faults, worked_with_line
from service.words.brief import brief
from service.words.dipping import at_tank_line, dip_remembered, dipped_button, left_line
from service.words.due import by_hour, due_range, has_hour, range_of, sure_by
from service.words.evidence import face_line, on_mould_line, sensor_on_line, worn_line
from service.words.failure_factors import factor_name, factor_value
from service.words.failure_print import odds_words, p_words, small_print
from service.words.failures import (
    chance_line,
    finding_line,
    floor_line,
    kind_title,
    kind_unsaid_line,
    looked_line,
    needed_line,
    nothing_line,
    pairs_line,
    result_line,
    shells,
    shells_that,
    unknown_line,
    unsaid_line,
    within_line,
)
from service.words.hands import called_to, hand_line, own_reply, reply_lines, seen_by, snooze_button
from service.words.heard import HeardWords, heard_words
from service.words.learned import (
    Names,
    anew_line,
    anew_since,
    known_at_first,
    learned_line,
    rests_on,
    where_learned,
)
from service.words.moulds import (
    MOST_NAMES,
    bare_tank,
    coat_words,
    coats_on,
    frost_line,
    hand_check_line,
    headline,
    hook_words,
    least_wait_line,
    longest_wait_line,
    never_line,
    newest_kind,
    next_dip,
    not_within_line,
    notebook_line,
    notices,
    obstacle,
    reckoned_dry,
    reckoned_roughly,
    rough_mark,
    tank_words,
    too_soon_for_dewax,
    unmeasured_line,
    unworkable_line,
    wanted_line,
    wetness,
    what_now,
    wires_line,
    zone_line,
)
from service.words.numbers import (
    bare_temperature,
    exact_speed,
    humidity_range,
    length,
    mass,
    percent,
    quantity_value,
    speed,
    temperature,
    temperature_difference,
    temperature_range,
    units_of,
    water_share,
)
from service.words.own_air import own_air_lines
from service.words.problems import PROBLEM_WORDS, problem_note, problem_words, wrong_line
from service.words.records import back_up_line, whole_line
from service.words.results import (
    came_out,
    failing_lines,
    place_words,
    result_question,
    result_wanted,
    verdict_line,
)
from service.words.scales import scale_age, scale_line, still_line, weighed_line
from service.words.stands_out import (
    coats_named,
    compared_line,
    factor_words,
    known_words,
    likely_percent,
    likely_water,
    stands_out_line,
    tank_before_line,
    weight_change,
)
from service.words.storage import storage_lines
from service.words.tank_limits import outside_lines, wanted_lines
from service.words.tanks import tank_age_line, tank_check_line, tank_check_words
