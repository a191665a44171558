"""Running the rule book over a setup. Each check is a plain function, named in CHECKS by the name in its rule's file."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from setuplint.checks import (
    alarms,
    battery,
    curve_shapes,
    failsafe,
    hold,
    hover,
    modes,
    movements,
    overrides,
    rescue,
    rescue_power,
    start,
    structure,
    timing,
)
from setuplint.checks.asking import Asking
from setuplint.findings import Finding

Check = Callable[[Asking], Iterator[Finding]]

CHECKS: dict[str, Check] = {
    "curve_not_monotonic": curve_shapes.curve_not_monotonic,
    "curve_overshoot": curve_shapes.curve_overshoot,
    "curve_short_of_full": curve_shapes.curve_short_of_full,
    "hover_too_sharp": hover.hover_too_sharp,
    "curve_flat_at_hover": hover.curve_flat_at_hover,
    "hover_off_centre": hover.hover_off_centre,
    "curve_steep_outside": hover.curve_steep_outside,
    "hold_missing": hold.hold_missing,
    "hold_slow": timing.hold_slow,
    "hold_idles": hold.hold_idles,
    "hold_springs_back": hold.hold_springs_back,
    "hold_two_moves": hold.hold_two_moves,
    "hold_shared": hold.hold_shared,
    "hold_freezes_controls": hold.hold_freezes_controls,
    "start_impossible": start.start_impossible,
    "start_unguarded": start.start_unguarded,
    "start_in_idle_up": start.start_in_idle_up,
    "motor_on_at_low_stick": start.motor_on_at_low_stick,
    "trim_lifts_motor": start.trim_lifts_motor,
    "mode_gap": modes.mode_gap,
    "mode_unreachable": modes.mode_unreachable,
    "mode_unannounced": modes.mode_unannounced,
    "idle_up_stops": modes.idle_up_stops,
    "override_conflict": overrides.override_conflict,
    "override_shadowed": overrides.override_shadowed,
    "override_stuck": overrides.override_stuck,
    "rescue_incomplete": rescue.rescue_incomplete,
    "rescue_too_weak": rescue.rescue_too_weak,
    "rescue_two_moves": rescue.rescue_two_moves,
    "rescue_slow": timing.rescue_slow,
    "rescue_lowers_power": rescue_power.rescue_lowers_power,
    "rescue_too_strong": rescue_power.rescue_too_strong,
    "rescue_release_drop": rescue_power.rescue_release_drop,
    "lift_before_level": rescue_power.lift_before_level,
    "mode_jump": movements.mode_jump,
    "rescue_shared": movements.rescue_shared,
    "condition_constant": structure.condition_constant,
    "part_unused": structure.part_unused,
    "claim_broken": structure.claim_broken,
    "voltage_alarm_missing": battery.voltage_alarm_missing,
    "voltage_alarm_below_floor": battery.voltage_alarm_below_floor,
    "cell_count_mismatch": battery.cell_count_mismatch,
    "alarm_once": alarms.alarm_once,
    "failsafe_missing": failsafe.failsafe_missing,
    "failsafe_runs_motor": failsafe.failsafe_runs_motor,
    "failsafe_not_level": failsafe.failsafe_not_level,
    "failsafe_wastes_rotor": failsafe.failsafe_wastes_rotor,
    "failsafe_untested": failsafe.failsafe_untested,
}
