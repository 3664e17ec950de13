"""Names of the repairs, and existing repairs that the new causes use (review 0.3)."""

from __future__ import annotations

from collections.abc import Mapping

from tests.importer.tables import names

__all__ = ["ADDED_FIXES", "REPAIR_NAMES"]

#: New causes that the review sends to repairs of the catalogue.
ADDED_FIXES: Mapping[str, tuple[str, ...]] = {
    "rp-eps-replace": ("rc-eps-torque-sensor",),
    "rp-replace-rack": ("rc-rack-binding",),
    "rp-replace-lower-ball-joint": ("rc-ball-joint-seized",),
    "rp-replace-tyre": ("rc-tyre-flat-spot", "rc-tyre-worn-out"),
}

REPAIR_NAMES = names(
    """
rp-torque-wheel-nuts | Inspect and torque the wheel nuts
rp-replace-studs-nuts | New wheel studs and nuts
rp-clean-hub-face | Clean the hub face
rp-replace-wheel | New wheel
rp-replace-bearing | New hub bearing
rp-axle-nut-new | New axle nut
rp-replace-outer-tie-rod | New outer tie-rod end
rp-replace-inner-tie-rod | New inner tie-rod end
rp-tighten-jam-nut | Tighten the tie-rod lock nut
rp-replace-lower-ball-joint | New lower ball joint
rp-replace-upper-ball-joint | New upper ball joint
rp-secure-pinch | Secure the ball joint stud
rp-replace-control-arm | New control arm
rp-replace-arm-bushing | New control-arm bushing
rp-replace-knuckle | New knuckle
rp-replace-strut-pair | New struts, both sides
rp-replace-strut-mount | New strut mount
rp-replace-strut-bolts | New strut bolts
rp-replace-spring-pair | New springs, both sides
rp-correct-ride-height | Correct the ride height
rp-replace-air-spring | New air spring
rp-replace-sway-link | New sway-bar link
rp-replace-sway-bushings | New sway-bar bushings
rp-replace-sway-bar | New sway bar
rp-align-subframe | Align the subframe
rp-replace-subframe | New subframe
rp-replace-rear-toe-link | New rear toe link
rp-free-toe-adjuster | Free or renew the toe adjuster
rp-replace-trailing-bushing | New trailing-arm bushing
rp-replace-rear-beam | New rear beam
rp-repair-leaf | Repair the leaf spring
rp-replace-track-bar | New track bar
rp-final-tighten-ride-height | Final-tighten bushings at ride height
rp-wheel-torque-final | Final wheel torque
rp-rack-mounts | New rack mountings
rp-replace-rack | New steering rack
rp-replace-shaft-joint | New steering shaft joint
rp-replace-idler-pitman | New idler or pitman arm
rp-replace-coupler | New column coupler
rp-recentre-wheel-spline | Refit the steering wheel on its spline
rp-replace-clock-spring | New clock spring
rp-eps-replace | New steering assist unit
rp-steering-fluid | Steering fluid and leak
rp-cv-boot | New drive-shaft boot
rp-replace-cv-axle | New drive shaft
rp-propshaft | Propshaft repair
rp-replace-mount | New engine or gearbox mount
rp-awd-service | All-wheel-drive coupling service
rp-service-slides | Service the caliper slides
rp-replace-caliper | New caliper
rp-replace-hose | New brake hose
rp-pads-rotors-axle | Pads and rotors, one axle
rp-rear-shoes | New rear shoes
rp-park-brake | Free the park brake
rp-replace-brake-line | New brake line
rp-brake-bleed | Bleed the brakes
rp-bend-shield | Bend the splash shield clear
rp-booster | Booster or vacuum supply
rp-inflate-placard | Set pressures to the placard
rp-match-tyres | Matching tyres
rp-replace-tyre | New tyre
rp-balance | Balance the wheels
rp-cross-tyres | Cross the tyres
rp-alignment | Alignment
rp-calibrate-sas | Set the steering angle zero
rp-calibrate-imu | Set the inertial zero
rp-clean-sensor-seat | Clean the sensor seat
rp-replace-wss | New wheel speed sensor
rp-replace-tone-ring | New tone ring
rp-clean-ring | Clean the ring or encoder
rp-repair-harness | Repair the sensor lead
rp-repair-connector | Repair the sensor connector
rp-unswap-wiring | Put crossed sensor leads right
rp-clean-ground | Clean the ground point
rp-module-connector | Repair the ABS unit connector
rp-battery | Battery or terminals
rp-charging | Charging repair
rp-bus-repair | Network repair
rp-replace-sas | New steering angle sensor
rp-replace-imu | New yaw and acceleration unit
rp-remount-imu | Refit the yaw and acceleration unit
rp-brake-switch | Brake switch
rp-brake-pressure-sensor | Brake pressure sensor
rp-abs-unit | New ABS unit
rp-configure-module | Configure the module
rp-tpms-sensor | New tyre pressure sensor
rp-tpms-relearn | Tyre pressure sensor relearn
rp-refer-engine | Refer to engine diagnosis
rp-explain-no-fault | Explain that there is no fault
rp-clear-codes | Clear the codes
rp-verification-drive | Verification drive
rp-rescan-final | Final scan
rp-report | Report
rp-eps-feed | Steering assist feed repair
rp-steering-pump | Steering pump or belt
rp-steering-damper | New steering damper
rp-refer-driveline | Refer to driveline diagnosis
rp-exhaust-shield | Clamp or renew the exhaust shield
rp-abs-feed | ABS unit fuse or feed
rp-brake-lamp-circuit | Brake lamp circuit repair
rp-epb | Electric park brake repair
rp-master-cylinder | New master cylinder
rp-brake-hardware | Brake hardware kit
rp-rotor-clean | Clean or machine the rotors
rp-liner | Refit the liner
rp-height-sensor | Ride-height sensor or link
rp-remove-device | Remove or rewire the added device
"""
)
