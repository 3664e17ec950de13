"""Names of the checks, what one doing of each covers, and what was set by hand.

The sources give minutes but do not say for how much of the car. The third column is
our judgement of that: minutes are for one such unit. A check that compares corners
with each other, or that the source describes as done on all wheels, covers the
vehicle; a dial, a joint unloaded or a wheel off is done corner by corner.
"""

from __future__ import annotations

from collections.abc import Mapping

__all__ = [
    "CAUTIONS",
    "CHECK_NAMES",
    "KIND_CHANGES",
    "MINUTE_CHANGES",
    "RUST_LOOKS",
    "SETUP_CHANGES",
]

_TABLE = """
ck-history-interview | History interview | vehicle
ck-recent-work-review | Recent work review | vehicle
ck-safety-questions | Safety questions | vehicle
ck-full-scan | Full scan of all modules | vehicle
ck-save-freeze-frame | Save the freeze frames | vehicle
ck-status-bits | Label the status of each code | vehicle
ck-network-map | Network map | vehicle
ck-supply-pid | Module supply against battery | vehicle
ck-brake-switch-pid | Brake switch values | vehicle
ck-brake-pressure-zero | Brake pressure zero | vehicle
ck-sas-sweep | Steering angle sweep | vehicle
ck-yaw-zero-static | Yaw at rest | vehicle
ck-latg-static | Lateral acceleration at rest | vehicle
ck-eps-torque-zero | Steering torque zero | vehicle
ck-module-config | Module configuration | vehicle
ck-calibration-status | Calibration status | vehicle
ck-actuator-test | Pump and valve actuation | vehicle
ck-tpms-pid | Tyre pressure sensor values | vehicle
ck-clear-and-return | Clear and see what returns | vehicle
ck-wheel-nut-look | Look at the wheel nuts | vehicle
ck-wheel-nut-torque | Wheel nut torque | vehicle
ck-tyre-pressure-cold | Cold tyre pressures | vehicle
ck-tyre-id-match | Tyre size and type match | vehicle
ck-tread-depth-map | Tread depth map | vehicle
ck-tyre-wear-read | Read the tyre wear by hand | vehicle
ck-ride-height | Ride height | vehicle
ck-wheel-tilt-look | Look for a leaning wheel | vehicle
ck-leak-look | Look for leaks | vehicle
ck-fluid-level | Brake and steering fluid levels | vehicle
ck-pedal-static | Brake pedal, car still | vehicle
ck-battery-test | Battery test | vehicle
ck-charging-test | Charging test | vehicle
ck-bulb-check | Warning lamp check at key-on | vehicle
ck-road-standard | Standard road test | vehicle
ck-wss-log-straight | Wheel speed log, straight | vehicle
ck-wss-log-creep | Wheel speed log, creeping to a stop | vehicle
ck-wss-log-turn | Wheel speed log, constant circle | vehicle
ck-sas-straight | Steering angle running straight | vehicle
ck-yaw-vs-steer | Yaw against steering | vehicle
ck-swerve-hum | Hum in a gentle swerve | vehicle
ck-neutral-coast | Coast in neutral | vehicle
ck-hands-light-pull | Pull with light hands | vehicle
ck-brake-moderate | Moderate braking | vehicle
ck-walking-pace-stop | Stops from walking pace | vehicle
ck-vibration-order | Vibration order | vehicle
ck-accel-shudder | Shudder under power | vehicle
ck-full-lock-circles | Full-lock circles | vehicle
ck-steer-return | Steering return | vehicle
ck-slow-bump | Slow bump, one side then the other | vehicle
ck-tyre-swap-sides | Cross the front tyres | front-axle
ck-dry-park | Dry-park check | front-axle
ck-freeplay-rim | Free play at the rim | vehicle
ck-mount-hand | Hand on the strut mount | front-axle
ck-bounce | Bounce test | vehicle
ck-pedal-brake-watch | Watch the arms under drive load | vehicle
ck-shaft-watch | Watch the steering shaft joints | vehicle
ck-wheel-shake-12-6 | Wheel shake, top and bottom | corner
ck-wheel-shake-3-9 | Wheel shake, left and right | corner
ck-inner-boot-squeeze | Inner tie rod felt through the boot | front-corner
ck-bearing-spin-feel | Bearing felt while spinning | corner
ck-bearing-listen | Listen at the hub bearings | vehicle
ck-joint-unload | Unloaded ball joint play | corner
ck-bushing-pry | Pry the bushings | axle
ck-rust-probe | Rust probe | vehicle
ck-brake-line-look | Look at the brake lines | vehicle
ck-hand-turn-drag | Brake drag by hand | vehicle
ck-wheel-temp-compare | Compare wheel temperatures | vehicle
ck-tyre-spin-look | Spin the tyre against a pointer | corner
ck-ring-look | Look at the tone ring | corner
ck-harness-look | Look at the sensor lead | corner
ck-cv-look | Look at the drive-shaft boots | axle
ck-prop-look | Propshaft and joints | vehicle
ck-witness-marks | Witness marks | axle
ck-spring-look | Look at the springs | vehicle
ck-link-loaded-pry | Pry the links at ride height | axle
ck-bolt-neutral | Bushing bolt loosened at ride height | corner
ck-adjuster-free | Toe adjusters turn freely | rear-axle
ck-joint-loaded-dial | Loaded joint on a dial | corner
ck-hub-face-look | Look at the hub face | corner
ck-hub-runout-dial | Hub and rotor runout | corner
ck-hub-play-dial | Hub play on a dial | corner
ck-rotor-measure | Measure rotor and pads | corner
ck-slide-free | Caliper slides and piston move | corner
ck-hose-bleed-test | Dragging brake, bleeder opened | corner
ck-drum-look | Look inside the drum | rear-corner
ck-wss-remove-look | Draw the wheel speed sensor | corner
ck-magnet-card | Magnetic viewing card on the encoder | corner
ck-axle-nut | Axle nut | corner
ck-balance-force | Balance and force variation | corner
ck-circumference | Tyre circumference | vehicle
ck-align-measure | Alignment measurement | vehicle
ck-align-repeat | Alignment repeated under push and pull | vehicle
ck-sai-included | Steering-axis inclination and included angle | front-axle
ck-toe-jounce | Toe change over travel | front-axle
ck-toe-out-on-turns | Toe-out on turns | front-axle
ck-setback | Setback | vehicle
ck-wss-wiggle | Wiggle the sensor lead | corner
ck-wss-bias-current | Active sensor current | corner
ck-wss-resistance | Passive sensor resistance | corner
ck-wss-scope | Wheel speed signal on the oscilloscope | corner
ck-wss-swap-sides | Swap the sensor to the other side | axle
ck-circuit-vdrop | Sensor circuit voltage drop | corner
ck-module-feed-vdrop | ABS unit feed and ground voltage drop | vehicle
ck-connector-look | Look into the connector | corner
ck-bus-check | Network resistance and waveform | vehicle
ck-wire-trace | Which wheel moves which input | vehicle
ck-imu-mount-look | Yaw unit mounting | vehicle
ck-clock-spring-check | Clock spring continuity | vehicle
ck-verify-drive | Verification drive | vehicle
ck-rescan | Final scan | vehicle
ck-align-after | Alignment after the repair | vehicle
ck-horn-buttons | Horn and wheel buttons | vehicle
ck-brake-lamp-look | Look at the brake lamps | vehicle
ck-cranking-volt | Voltage while cranking | vehicle
ck-fuse-link-drop | Voltage drop across fuses and links | vehicle
ck-hold-test-60s | Brake pedal held for a minute | vehicle
ck-carpet-wet | Wet carpet | vehicle
ck-liner-rub-look | Look for rub marks | vehicle
ck-epb-actuate | Electric park brake actuation | rear-axle
ck-wss-keyon-circuit | Wheel speed circuits at key-on | vehicle
ck-accessory-unplug | Unplug added devices | vehicle
ck-eps-current-log | Steering assist current | vehicle
ck-accel-wheel-trace | Wheel speed trace on a rough road | vehicle
ck-speed-vs-gps | Speed against satellite speed | vehicle
ck-hot-repeat | Log repeated hot | vehicle
ck-load-repeat | Test repeated loaded | vehicle
ck-tyre-inflate-up | Hum with the tyres inflated up | vehicle
ck-steer-lift-free | Steering effort with the wheels hanging | vehicle
ck-ball-joint-swivel | Swing each joint by hand | front-corner
ck-tie-rod-mark | Tie-rod lock nut and thread | front-axle
ck-pinch-bolt-torque | Pinch and taper nut torque | corner
ck-wss-hand-spin-pid | Spin each wheel, watch the value | vehicle
ck-brake-apply-lift | Brake grip and release on the lift | vehicle
ck-diff-listen | Listen at differential and gearbox | vehicle
ck-shield-tap | Tap exhaust and shields | vehicle
ck-tap-pads | Press the pads by hand | vehicle
ck-damper-stroke | Stroke the steering damper | vehicle
ck-pump-belt-look | Steering pump belt and reservoir | vehicle
ck-rotate-front-rear | Swap front and rear wheels | vehicle
ck-sas-feed-check | Feed and bus at the steering angle sensor | vehicle
ck-eps-feed-drop | Steering assist feed voltage drop | vehicle
ck-spray-test | Water mist on one connector | corner
ck-heat-cold-sensor | Heat and cold on the sensor | corner
ck-input-substitute | Substitute sensor signal at the module | corner
"""

#: Check id -> (label, unit that one doing covers).
CHECK_NAMES: Mapping[str, tuple[str, str]] = {
    key: (label, unit)
    for key, label, unit in (line.split(" | ") for line in _TABLE.strip().splitlines())
}

#: Review 8.2 calls these set-ups wrong: the reading follows a drive.
SETUP_CHANGES: Mapping[str, str] = {"ck-wheel-temp-compare": "su-road"}

#: Review 8.2: the stated minutes leave out the drive.
MINUTE_CHANGES: Mapping[str, float] = {"ck-tyre-swap-sides": 40.0}

#: Their two detects rows answer in opposite directions, so each needs its own answer.
KIND_CHANGES: Mapping[str, str] = {"ck-tyre-inflate-up": "located", "ck-sas-feed-check": "located"}

#: Review 8.2 general (c): looks whose specificity is .1 lower on salted cars.
RUST_LOOKS: Mapping[str, float] = dict.fromkeys(
    (
        "ck-ring-look",
        "ck-harness-look",
        "ck-connector-look",
        "ck-rust-probe",
        "ck-witness-marks",
        "ck-hub-face-look",
    ),
    0.1,
)

#: Cautions for the review's checks, which state none; common practice, no source.
CAUTIONS: Mapping[str, str] = {
    "ck-cranking-volt": "clear of belts and fans; eye protection at the battery",
    "ck-fuse-link-drop": "high-current feed: measure only, never bridge a fuse",
    "ck-hold-test-60s": "pedal sinks: open the brake gate, do not drive",
    "ck-carpet-wet": "restraint wiring under the carpet: SRS precautions",
    "ck-liner-rub-look": "key off before hands go into the wheel arch",
    "ck-epb-actuate": "fingers clear of calipers; it can move when a door opens",
    "ck-eps-current-log": "hands clear of the linkage; tyres off sticky ground",
    "ck-accel-wheel-trace": "gate first; helper reads, driver drives",
    "ck-speed-vs-gps": "gate first; helper reads, driver drives",
    "ck-hot-repeat": "gate first; hot brakes and hubs burn",
    "ck-load-repeat": "gate first; never above the rated load",
    "ck-tyre-inflate-up": "never above the sidewall limit; set back to the placard at once",
    "ck-steer-lift-free": "hands clear of the linkage; steering lock off",
    "ck-ball-joint-swivel": "parted joint swings: support the knuckle; renew one-time nuts",
    "ck-tie-rod-mark": "a loose lock nut opens the joint gate",
    "ck-pinch-bolt-torque": "torque value from the vehicle maker; a moving stud opens the gate",
    "ck-wss-hand-spin-pid": "sleeves and fingers clear of the turning wheel",
    "ck-brake-apply-lift": "helper presses only on call; fingers clear of the rotor",
    "ck-diff-listen": "driven wheels on the lift: vehicle maker's permission, codes will set",
    "ck-shield-tap": "exhaust burns",
    "ck-tap-pads": "hot brakes burn",
    "ck-rotate-front-rear": "torque the nuts to the maker's value before moving the car",
    "ck-sas-feed-check": "restraint parts near: SRS precautions",
    "ck-eps-feed-drop": "high-current feed: fuse first; hands clear of the linkage",
    "ck-spray-test": "no water on high-voltage or restraint connectors",
    "ck-heat-cold-sensor": "no heat near brake hose, tyre or fuel line; eye protection",
    "ck-input-substitute": "never apply battery volts to a signal line",
}
