"""Names of the causes, and what a roadworthiness test would call each of them.

Columns: id, label, deficiency class, item of Directive 2014/45/EU Annex I point 3.
An item with a letter was read in the consolidated text (as were 2.3 and 2.4, which
have none); an item without a letter is a number from memory. Deficiencies of ABS,
ESC and electric assist are major, never dangerous: what is dangerous is mechanical.
No class means that it is no deficiency. Class and item are our reading, not law.
"""

from __future__ import annotations

__all__ = ["CAUSE_NAMES"]

_TABLE = """
rc-wheel-nuts-loose | Loose wheel nuts | dangerous | 5.2.1 a
rc-wheel-stud-damage | Damaged wheel studs | dangerous | 5.2.1 a
rc-hub-face-rust | Rust on the hub face | major | 5.2.1 b
rc-wheel-bent | Bent wheel | major | 5.2.2 c
rc-wheel-wrong-fit | Wrong wheel for the car | major | 5.2.2 d
rc-bearing-play | Hub bearing play | major | 5.1.3 a
rc-bearing-rough | Rough hub bearing | minor |
rc-hub-flange-runout | Bent hub flange | major | 5.2.1 b
rc-axle-nut-loose | Loose axle nut | dangerous | 5.1.3 a
rc-bearing-reversed | Bearing fitted the wrong way round | major | 1.6 e
rc-outer-tie-rod-worn | Worn outer tie-rod end | major | 2.1.3 b
rc-inner-tie-rod-worn | Worn inner tie-rod end | major | 2.1.3 b
rc-tie-rod-bent | Bent tie rod | major | 2.1.3 c
rc-tie-rod-jam-nut-loose | Loose tie-rod lock nut | dangerous | 2.1.3 a
rc-ball-joint-lower-worn | Worn lower ball joint | major | 5.3.4 a
rc-ball-joint-lower-separating | Lower ball joint about to separate | dangerous | 5.3.4 a
rc-ball-joint-upper-worn | Worn upper ball joint | major | 5.3.4 a
rc-ball-joint-pinch-loose | Ball joint stud loose in the knuckle | dangerous | 5.3.4 a
rc-rack-mount-loose | Loose steering rack mounting | major | 2.1.2
rc-rack-internal-wear | Worn steering rack | major | 2.1.1
rc-steering-shaft-joint | Seized or loose steering shaft joint | major | 2.2.2
rc-idler-pitman-worn | Worn idler or pitman arm | major | 2.1.3 b
rc-column-coupler-worn | Worn steering column coupler | major | 2.2.2
rc-steering-wheel-off-spline | Steering wheel fitted off its spline | minor |
rc-clock-spring-damaged | Damaged clock spring | major | 7.1.6
rc-eps-motor-fault | Electric steering assist failing | major | 2.6 c
rc-steering-fluid-low | Low power steering fluid | minor | 2.1.5
rc-arm-bushing-torn | Torn control-arm bushing | major | 5.3.4 a
rc-arm-bent | Bent control arm | major | 5.3.3 b
rc-arm-rusted | Control arm or spring seat rusted through | dangerous | 5.3.3 b
rc-knuckle-bent | Bent knuckle | major | 5.1.2
rc-strut-bent | Bent strut | major | 5.3.2 b
rc-strut-worn | Worn damper | major | 5.3.2 b
rc-strut-mount-worn | Worn strut mount | minor | 5.3.2 a
rc-strut-bolt-slip | Slipped strut or camber bolt | major | 5.3.2 a
rc-spring-broken | Broken coil spring | major | 5.3.1 b
rc-spring-sagged | Sagged spring | minor |
rc-air-spring-leak | Leaking air spring | major | 5.3.5
rc-sway-link-worn | Worn sway-bar link | major | 5.3.4 a
rc-sway-bushing-worn | Worn sway-bar bushings | major | 5.3.4 a
rc-sway-bar-broken | Broken sway bar | major | 5.3.1 b
rc-subframe-shifted | Shifted subframe | major | 6.1.1
rc-subframe-rusted | Subframe rusted through | dangerous | 6.1.1
rc-rear-toe-link-worn | Worn rear toe link | major | 5.3.4 a
rc-rear-toe-adjuster-seized | Seized rear toe adjuster | minor | 2.4
rc-trailing-arm-bushing | Torn trailing-arm bushing | major | 5.3.4 a
rc-rear-beam-bent | Bent rear beam or spindle | major | 5.1.1
rc-leaf-centre-bolt | Sheared leaf-spring centre bolt | dangerous | 5.3.1 a
rc-track-bar-worn | Worn track bar | major | 5.3.4 a
rc-bushing-torqued-hanging | Bushings tightened with the wheels hanging | minor |
rc-ride-height-modified | Changed ride height | major | 5.3.1 d
rc-cv-boot-torn | Torn drive-shaft boot | minor | 6.1.7
rc-cv-outer-worn | Worn outer drive-shaft joint | major | 6.1.7
rc-cv-inner-worn | Worn inner drive-shaft joint | major | 6.1.7
rc-propshaft-imbalance | Propshaft or centre bearing out of balance | minor | 6.1.7
rc-u-joint-worn | Worn propshaft cross joint | major | 6.1.7
rc-powertrain-mount | Broken engine or gearbox mount | minor | 6.1.8
rc-awd-coupling-bind | All-wheel-drive coupling dragging | minor |
rc-caliper-slide-seized | Seized caliper slides | major | 1.1.16
rc-caliper-piston-seized | Sticking caliper piston | major | 1.1.16
rc-brake-hose-collapsed | Brake hose collapsed inside | major | 1.1.12
rc-rotor-dtv | Rotor thickness variation | minor | 1.1.14
rc-pads-worn-out | Brake pads worn to the metal | dangerous | 1.1.13
rc-rear-shoe-fault | Rear brake shoe fault | major | 1.1.13
rc-park-brake-stuck | Stuck park brake cable or lever | major | 1.1.15
rc-brake-line-rusted | Rusted brake line | dangerous | 1.1.11
rc-brake-fluid-low | Low brake fluid | dangerous | 1.1.10
rc-brake-air | Air in the brake system | dangerous | 1.2.1
rc-splash-shield-contact | Splash shield touching the rotor | |
rc-booster-weak | Weak brake booster or vacuum supply | dangerous | 1.1.10
rc-tyre-pressure-low | Low tyre pressure | minor | 5.2.3 h
rc-tyre-pressure-set-wrong | Tyre pressures set to a wrong target | minor | 5.2.3 h
rc-tyre-size-mismatch | Tyre of another size | major | 5.2.3 b
rc-tyre-wear-mismatch | Tread depth far from the other tyres | minor |
rc-temporary-spare | Temporary spare fitted | major | 5.2.3 b
rc-tyre-type-mix | Mixed tyre types | major | 5.2.3 c
rc-tyre-conicity | Tyre that pulls to one side | |
rc-tyre-belt-shift | Tyre belt separation | dangerous | 5.2.3 d
rc-tyre-imbalance | Wheel out of balance | |
rc-tyre-cupped | Cupped tyre tread | minor |
rc-tyre-force-variation | Tyre force variation | |
rc-align-front-toe | Front toe out of specification | minor | 2.4
rc-align-wheel-not-centred | Front toe split unevenly | minor | 2.4
rc-align-rear-toe-thrust | Rear toe or thrust angle not set | minor | 2.4
rc-align-cross-camber | Camber side difference | minor | 2.4
rc-align-cross-caster | Caster side difference | minor | 2.4
rc-wss-mount-rust-jack | Wheel speed sensor lifted by rust | major | 1.6 c
rc-tone-ring-cracked | Cracked tone ring | major | 1.6 e
rc-tone-ring-debris | Debris in the tone ring | |
rc-encoder-damaged | Damaged magnetic encoder | major | 1.6 e
rc-encoder-metal-debris | Iron dust on the magnetic encoder | |
rc-wss-wrong-part | Wrong wheel speed sensor or hub | major | 1.6 c
rc-wss-sensor-failed | Failed wheel speed sensor | major | 1.6 c
rc-wss-harness-chafed | Chafed wheel speed sensor lead | major | 1.6 d
rc-wss-connector-corroded | Corroded wheel speed sensor connector | major | 1.6 d
rc-wss-wiring-swapped | Wheel speed sensor leads crossed | major | 1.6 d
rc-sas-not-calibrated | Steering angle zero not set | major | 7.12 e
rc-sas-sensor-failed | Failed steering angle sensor | major | 7.12 c
rc-imu-failed | Failed yaw and acceleration unit | major | 7.12 c
rc-imu-loose | Yaw and acceleration unit loose or tilted | major | 7.12 c
rc-imu-not-calibrated | Yaw and acceleration zero not set | major | 7.12 e
rc-brake-switch-fault | Brake switch failed or misadjusted | major | 4.3
rc-brake-pressure-sensor | Brake pressure sensor drift | major | 7.12 c
rc-abs-module-failed | Failed ABS control unit or valve block | major | 1.6 e
rc-abs-connector-corroded | Corroded ABS unit connector | major | 1.6 d
rc-ground-corroded | Corroded ground point | minor | 4.11 b
rc-battery-weak | Weak battery or terminals | |
rc-charging-fault | Charging fault | minor |
rc-bus-wiring-fault | Network wiring fault | minor | 4.11 b
rc-module-config-wrong | Wrong module configuration | major | 7.12 e
rc-tpms-sensor-dead | Dead tyre pressure sensor | minor | 5.2.3 h
rc-tpms-not-relearned | Tyre pressure sensors not relearned | minor | 5.2.3 h
rc-engine-fault-upstream | Engine fault behind the chassis lamps | |
rc-road-or-load | Road, wind or load, no fault of the car | |
rc-normal-operation | Genuine activation on low grip | |
rc-eps-torque-sensor | Failed steering torque sensor | major | 2.6 c
rc-eps-feed-fault | Feed or ground fault at the steering assist | major | 2.6 c
rc-rack-binding | Binding steering rack | major | 2.1.1
rc-ball-joint-seized | Seized ball joint or socket | major | 2.1.4
rc-steering-pump-weak | Weak steering pump or belt | major | 2.1.5
rc-steering-damper-worn | Worn steering damper | minor |
rc-diff-bearing-noise | Noisy differential or gearbox bearing | minor | 6.1.7
rc-exhaust-shield-loose | Loose exhaust shield or hanger | minor | 6.1.2
rc-abs-feed-fuse | Open fuse or relay of the ABS unit | major | 1.6 e
rc-brake-lamp-circuit | Brake lamp circuit feeding back | major | 4.3
rc-epb-fault | Electric park brake fault | major | 1.1.6
rc-master-cylinder-bypass | Master cylinder leaking inside | dangerous | 1.1.10
rc-rotor-surface-rust | Surface rust on the rotors | |
rc-brake-hardware-rattle | Loose brake pads or clips | |
rc-tyre-flat-spot | Flat-spotted tyre | |
rc-tyre-worn-out | Worn-out tyre | major | 5.2.3 e
rc-liner-rub | Tyre rubbing on liner or strut | major | 5.2.3 f
rc-height-sensor-fault | Ride-height sensor or link fault | minor |
rc-aftermarket-device | Added device disturbing bus or supply | minor |
"""


def _parse() -> dict[str, tuple[str, str, str]]:
    """Return id -> (label, class, item)."""
    rows = [[cell.strip() for cell in line.split("|")] for line in _TABLE.strip().splitlines()]
    return {row[0]: (row[1], row[2], row[3] if len(row) > 3 else "") for row in rows}


#: Cause id -> (label, deficiency class, directive item).
CAUSE_NAMES = _parse()
