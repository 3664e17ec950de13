"""What each vehicle fact does, read by a person out of review 6.1 and written as rules.

A fact begins at the margin: id; the question it answers (facts of one question
exclude each other); `only`: terms that only such cars have. Its effects follow,
indented (a long `only` too). An effect reads
`TERM[@front|@rear] FACTOR` (0 = such a car cannot have it) or `TERM > TERM VALUE`
for a link, with `=` a new strength and `x` a factor on it.
"""

from __future__ import annotations

from collections.abc import Mapping

__all__ = ["ALIASES", "FACT_RULES", "QUESTIONS", "UNSTRUCTURED"]

#: The names that the design used as examples.
ALIASES: Mapping[str, tuple[str, ...]] = {
    "vf-wss-active": ("vf-active-wheel-sensors",),
    "vf-front-strut": ("vf-strut-front",),
}

#: Words of review 6.1 that no rule carries; they stay in the fact's note.
UNSTRUCTURED: Mapping[str, str] = {
    "vf-drive-part-time": "coupling bind means: wrongly engaged",
    "vf-rear-beam": "rear toe is then fixed, not adjustable",
    "vf-rear-steer": "add its own module codes as free text; rear toe may be an actuator",
    "vf-wss-passive": "early fade at 3-6 mph, normal to 3; failure type bytes 18 and 19 cannot be",
    "vf-sensor-inside-hub": "a failed sensor is repaired by the hub",
    "vf-bearing-taper-adjust": "small play is by design: the limit of ck-hub-play-dial differs",
    "vf-sas-selflearn": "no service routine: rp-calibrate-sas does not apply",
    "vf-imu-in-unit": "a failed unit is repaired by that module",
    "vf-layout-early": "C0035 and C0040 then mean wheel speed",
    "vf-layout-late": "failure type weights apply",
    "vf-no-esc": "the car has ABS only",
    "vf-booster-electric": "its own module codes come as free text",
    "vf-hybrid-electric": "12 V battery weak without a slow crank; no misfire if battery electric",
    "vf-camera-radar": "follow-up: driver-assist aiming",
    "vf-tpms-indirect": "not relearned means here: reset missing",
    "vf-air-suspension": "which corners have air is not asked: coil springs only weigh less",
    "vf-rear-disc-inhat": "shoes are the park brake only",
}

#: The short name used below -> the question as it is asked.
QUESTIONS: Mapping[str, str] = {
    "drive": "Which wheels are driven?",
    "front suspension": "Which front suspension?",
    "rear suspension": "Which rear suspension?",
    "rear-wheel steering": "Does the rear axle steer?",
    "wheel speed sensor type": "Which wheel speed sensors?",
    "ring or encoder": "Separate ring or encoder in the bearing?",
    "sensor inside the hub": "Is the wheel speed sensor sealed inside the hub?",
    "hub bearing": "Which hub bearings?",
    "steering assist": "Which steering assist?",
    "steering linkage": "Which steering linkage?",
    "steering angle sensor place": "Where is the steering angle sensor?",
    "steering angle learning": "Does the angle zero learn by itself?",
    "yaw unit place": "Where is the yaw unit?",
    "code layout": "Which code layout?",
    "stability control": "Is stability control fitted?",
    "rear brake": "Which rear brakes?",
    "electric park brake": "Is the park brake electric?",
    "tyre pressure system": "Which tyre pressure system?",
    "air suspension": "Is air suspension fitted?",
    "height sensors": "Are ride-height sensors fitted?",
    "brake booster": "Which brake booster?",
    "hybrid or electric": "Is it hybrid or electric?",
    "steering damper": "Is a steering damper fitted?",
    "driver-assist sensors": "Are driver-assist sensors fitted?",
    "trailer plug": "Is a trailer plug fitted?",
}

_CV = "rc-cv-outer-worn rc-cv-inner-worn rc-cv-boot-torn"

FACT_RULES = f"""
vf-drive-fwd; drive; only:
    {_CV} @rear 0
    rc-axle-nut-loose@front 1.6
    rc-axle-nut-loose@rear 0.4
    rc-propshaft-imbalance rc-u-joint-worn rc-awd-coupling-bind st-driveline-windup 0
vf-drive-rwd; drive; only: rc-propshaft-imbalance rc-u-joint-worn
    {_CV} @front 0
    rc-axle-nut-loose@front 0.4
    rc-axle-nut-loose@rear 1.6
    rc-diff-bearing-noise 1.5
    rc-awd-coupling-bind st-driveline-windup 0
    sy-click-turn-power@front 0
vf-drive-awd; drive; only:
    only: rc-awd-coupling-bind rc-propshaft-imbalance rc-u-joint-worn st-driveline-windup
    rc-tyre-wear-mismatch 1.5
vf-drive-part-time; drive; only:
    only: rc-awd-coupling-bind rc-propshaft-imbalance rc-u-joint-worn st-driveline-windup
vf-front-strut; front suspension; only: rc-strut-bent
    rc-ball-joint-upper-worn@front rc-track-bar-worn@front 0
vf-front-double-arm; front suspension; only:
    rc-strut-bolt-slip@front rc-strut-bent 0
    rc-strut-mount-worn > sy-pop-steer-parking = 0
    rc-strut-mount-worn > st-steer-friction = 0
    rc-strut-mount-worn > sy-spring-twang = 0
    rc-track-bar-worn@front 0
vf-front-solid; front suspension; only: rc-idler-pitman-worn
    rc-rack-mount-loose rc-rack-internal-wear rc-inner-tie-rod-worn rc-strut-bent 0
    rc-strut-mount-worn 0
    rc-arm-bent@front rc-strut-bolt-slip@front 0
vf-rear-beam; rear suspension; only: rc-rear-beam-bent
    rc-rear-toe-link-worn rc-rear-toe-adjuster-seized rc-leaf-centre-bolt 0
    rc-track-bar-worn@rear rc-ball-joint-upper-worn@rear 0
vf-rear-independent; rear suspension; only: rc-rear-toe-link-worn rc-rear-toe-adjuster-seized
    rc-rear-beam-bent rc-leaf-centre-bolt 0
    rc-track-bar-worn@rear 0
vf-rear-leaf; rear suspension; only: rc-leaf-centre-bolt
    rc-rear-toe-link-worn rc-rear-toe-adjuster-seized rc-trailing-arm-bushing 0
    rc-rear-beam-bent 0
    rc-spring-broken@rear rc-track-bar-worn@rear rc-ball-joint-upper-worn@rear 0
    {_CV} @rear 0
vf-rear-solid-coil; rear suspension; only:
    rc-rear-toe-link-worn rc-rear-toe-adjuster-seized rc-leaf-centre-bolt rc-rear-beam-bent 0
    rc-ball-joint-upper-worn@rear 0
    {_CV} @rear 0
vf-rear-steer; rear-wheel steering; only:
vf-wss-passive; wheel speed sensor type; only: rc-tone-ring-cracked rc-tone-ring-debris
    rc-wss-mount-rust-jack 1.5
    rc-encoder-damaged rc-encoder-metal-debris rc-bearing-reversed ck-wss-bias-current 0
    ck-magnet-card 0
vf-wss-active; wheel speed sensor type; only:
    only: rc-encoder-damaged rc-encoder-metal-debris dtc-wss-supply-*
    ck-wss-resistance 0
vf-ring-separate; ring or encoder; only: rc-tone-ring-cracked rc-tone-ring-debris
    rc-encoder-damaged rc-encoder-metal-debris rc-bearing-reversed 0
vf-encoder-in-bearing; ring or encoder; only:
    rc-tone-ring-cracked rc-tone-ring-debris 0
vf-sensor-inside-hub; sensor inside the hub; only:
    rc-wss-mount-rust-jack rc-encoder-metal-debris ck-wss-remove-look 0
vf-bearing-pressed; hub bearing; only: rc-bearing-reversed
vf-bearing-hub-unit; hub bearing; only:
    rc-bearing-reversed 0
    rc-hub-flange-runout 0.7
vf-bearing-taper-adjust; hub bearing; only:
    rc-bearing-reversed 0
vf-steer-hydraulic; steering assist; only: rc-steering-fluid-low rc-steering-pump-weak
    rc-eps-motor-fault rc-eps-torque-sensor rc-eps-feed-fault rc-column-coupler-worn 0
    dtc-eps-torque dtc-lost-eps dtc-inv-eps sy-lamp-eps st-eps-down 0
vf-steer-ehps; steering assist; only: rc-steering-fluid-low rc-eps-motor-fault rc-eps-feed-fault
    rc-column-coupler-worn rc-eps-torque-sensor 0
vf-steer-eps-column; steering assist; only:
    only: rc-column-coupler-worn rc-eps-motor-fault rc-eps-torque-sensor rc-eps-feed-fault
    rc-steering-fluid-low rc-steering-pump-weak 0
    rc-eps-feed-fault 0.4
vf-steer-eps-rack; steering assist; only: rc-eps-motor-fault rc-eps-torque-sensor rc-eps-feed-fault
    rc-eps-feed-fault 1.5
    rc-steering-fluid-low rc-steering-pump-weak rc-column-coupler-worn 0
vf-linkage-rack; steering linkage; only:
    only: rc-rack-mount-loose rc-rack-internal-wear rc-inner-tie-rod-worn rc-rack-binding
    rc-idler-pitman-worn 0
vf-linkage-box; steering linkage; only: rc-idler-pitman-worn
    rc-rack-mount-loose rc-rack-internal-wear rc-inner-tie-rod-worn rc-rack-binding 0
vf-sas-clock; steering angle sensor place; only:
    rc-clock-spring-damaged > dtc-sas x 3
    rc-clock-spring-damaged > dtc-lost-sas x 3
    rc-clock-spring-damaged > dtc-sas-signal-a x 3
    rc-steering-wheel-off-spline > st-sas-offset = 0.8
vf-sas-column; steering angle sensor place; only:
    rc-steering-wheel-off-spline > st-sas-offset = 0.1
    rc-clock-spring-damaged > dtc-lost-sas = 0
vf-sas-eps; steering angle sensor place; only:
    rc-eps-motor-fault > dtc-sas = 0.5
    rc-eps-torque-sensor > dtc-sas = 0.5
    rc-battery-weak > rc-sas-not-calibrated x 2
    rc-sas-sensor-failed dtc-lost-sas 0
vf-sas-selflearn; steering angle learning; only:
    rc-sas-not-calibrated 0.3
    st-straight-angle-offset > st-sas-offset x 0.5
vf-imu-separate; yaw unit place; only: dtc-lost-yaw dtc-lost-multiaxis
vf-imu-in-unit; yaw unit place; only:
    rc-imu-loose 0.2
    dtc-lost-yaw dtc-lost-multiaxis 0
vf-layout-early; code layout; only: dtc-sas-old dtc-valve-relay
    dtc-wss-supply-* dtc-tone-* 0
vf-layout-late; code layout; only:
    dtc-sas-old dtc-valve-relay 0
vf-no-esc; stability control; only:
    rc-imu-failed rc-imu-loose rc-imu-not-calibrated rc-sas-not-calibrated 0
    rc-sas-sensor-failed 0
    dtc-yaw dtc-yaw-long dtc-lat-accel dtc-roll dtc-imu dtc-lost-yaw dtc-lost-multiaxis 0
    dtc-sas dtc-sas-signal-a dtc-sas-signal-b dtc-sas-old dtc-lost-sas dtc-inv-sas 0
    dtc-esc dtc-esc-too-long dtc-lost-vdc dtc-inv-vdc 0
    sy-lamp-esc sy-lamp-esc-flash st-esc-intervention 0
vf-rear-drum; rear brake; only: rc-rear-shoe-fault
    rc-caliper-slide-seized@rear rc-caliper-piston-seized@rear rc-rotor-dtv@rear 0
    rc-rotor-surface-rust@rear rc-brake-hardware-rattle@rear 0
    rc-epb-fault 0
vf-rear-disc-inhat; rear brake; only: rc-rear-shoe-fault
    rc-rear-shoe-fault > sy-pedal-low = 0
vf-rear-disc-caliper-park; rear brake; only:
    rc-caliper-piston-seized@rear 1.5
    rc-rear-shoe-fault 0
vf-epb; electric park brake; only: rc-epb-fault
    rc-park-brake-stuck 0.3
vf-tpms-direct; tyre pressure system; only: rc-tpms-sensor-dead dtc-tpms-sensor
    st-radius-mismatch > sy-lamp-tpms = 0
vf-tpms-indirect; tyre pressure system; only:
    st-radius-mismatch > sy-lamp-tpms = 0.5
    rc-tpms-sensor-dead dtc-tpms-sensor 0
vf-tpms-none; tyre pressure system; only:
    rc-tpms-sensor-dead rc-tpms-not-relearned dtc-tyre-low dtc-tpms-sensor sy-lamp-tpms 0
    sy-lamp-tpms-flash 0
vf-air-suspension; air suspension; only: rc-air-spring-leak rc-height-sensor-fault sy-lamp-airsus
    rc-spring-broken@front rc-spring-sagged@front 0.5
    rc-spring-broken@rear rc-spring-sagged@rear 0.1
vf-height-sensor; height sensors; only: rc-height-sensor-fault
vf-booster-vacuum; brake booster; only: rc-booster-weak
vf-booster-electric; brake booster; only:
    st-supply-low > sy-pedal-hard = 0.1
    rc-booster-weak 0
    rc-engine-fault-upstream > dtc-booster = 0
    rc-engine-fault-upstream > sy-pedal-hard = 0
vf-hybrid-electric; hybrid or electric; only:
    rc-rotor-surface-rust 3
    rc-rotor-dtv 0.6
    rc-pads-worn-out 0.4
    rc-caliper-slide-seized 1.5
    rc-tyre-worn-out 1.3
    sy-slow-crank 0
    rc-powertrain-mount > sy-idle-shake = 0
vf-steer-damper; steering damper; only: rc-steering-damper-worn
vf-camera-radar; driver-assist sensors; only:
vf-trailer-plug; trailer plug; only:
    rc-brake-lamp-circuit 2
    rc-aftermarket-device 1.5
"""
