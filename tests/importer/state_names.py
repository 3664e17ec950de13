"""Names of the intermediate states and of the set-ups."""

from __future__ import annotations

from tests.importer.tables import names

__all__ = ["SETUP_NAMES", "STATE_NAMES"]

STATE_NAMES = names(
    """
st-hub-play | Hub play
st-hub-runout | Hub runout
st-clamp-loss | Wheel not clamped to the hub
st-joint-play | Joint play
st-joint-separation-risk | Joint may come apart
st-wheel-separation-risk | Wheel may come off
st-compliance | Wheel moves in its bushings
st-lash | Steering lash
st-steer-friction | Steering friction
st-bushing-windup | Bushing wind-up
st-ride-height-low | Low ride height
st-toe-change | Toe of one wheel changed
st-toe-front-total | Front total toe out of specification
st-toe-split | Front toe split unevenly
st-rear-toe | Rear toe out of specification
st-thrust-angle | Thrust angle
st-camber-change | Camber out of specification
st-cross-camber | Camber difference left to right
st-cross-caster | Caster difference left to right
st-caster-low | Low caster on both sides
st-straight-angle-offset | Steering wheel not at zero when running straight
st-sas-offset | Steering angle zero not at true straight ahead
st-angle-yaw-mismatch | Steering angle and yaw rate disagree
st-imu-bias | Yaw or lateral value not zero at rest
st-imu-tilt | Yaw and acceleration unit not square to the car
st-wss-gap-large | Air gap too large
st-wss-gap-variation | Air gap varies
st-wss-dropout | Wheel speed signal drops out
st-wss-early-fade | Wheel speed signal fades early
st-wss-pulse-error | Missing or extra pulses
st-wss-none | No wheel speed signal
st-wss-noise | False wheel speed pulses
st-wss-bias | Wheel speed reads steadily off
st-wss-side-swap | Left and right wheel speed signals crossed
st-circuit-resistance | Added resistance in the sensor circuit
st-circuit-open | Open or intermittent sensor circuit
st-radius-mismatch | Rolling radius differs
st-conicity-force | Tyre side force
st-imbalance | Wheel imbalance
st-force-variation | Tyre force variation
st-wheel-runout | Wheel or tyre runout
st-brake-drag | Brake does not release
st-brake-imbalance | Braking force differs left to right
st-dtv | Rotor thickness variation
st-pad-knockback | Pads pushed back from the rotor
st-hydraulic-leak | Brake fluid escaping
st-supply-low | Low supply voltage
st-ground-high | Ground side voltage drop
st-bus-fault | Network disturbed
st-signal-invalid-upstream | Another module marks its data invalid
st-esc-intervention | Stability control acts when it should not
st-driveline-windup | Driveline wind-up
st-speed-lost | Vehicle speed value lost
st-calibration-missing | Learned value missing
st-wss-trip | Wheel speed monitor has tripped
st-wss-turn-dropout | Wheel speed signal lost under side load
st-abs-unit-down | ABS unit down
st-eps-down | Steering assist down
st-supply-high | Over-voltage
"""
)

SETUP_NAMES = names(
    """
su-counter | At the counter
su-scan | Scan tool connected, car still
su-walk | Walk-round on the ground
su-road | Road test
su-ground-helper | On its wheels with a helper
su-lift-hang | Frame lift, wheels hanging
su-lift-loaded | Lift with the wheels loaded
su-wheel-off | Wheel off
su-rack | Alignment rack
su-elec | Connector and harness access
"""
)
