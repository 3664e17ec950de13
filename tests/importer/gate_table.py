"""What opens each gate and what closes it, read by a person out of the safety notes.

A gate begins at the margin: id | label | stage | level, and "always" if it stands on
every job. Indented below: the checks it closes on; what must not start before it is
closed (checks, repairs, set-ups); its triggers: conditions that must all hold, then
`>` and the sentence that is shown. Conditions are
ids (findings, contexts, codes, facts); `!id` is a verdict "found"; `id~p` is a chance
above p anywhere; `age8` and `salted` speak of the car; `=level` overrides the level.

Chances are consequence times probability, not probability alone: two in a hundred for
a wheel, five for a joint or a leak. The safety notes state the first; the others are
starting estimates.
"""

from __future__ import annotations

__all__ = ["GATE_RULES"]

_LIFT = "no-road-test-until-lift-check"

GATE_RULES = f"""
sg-supported-vehicle | Vehicle safely supported | work | none | always
    before: su-lift-hang su-lift-loaded su-wheel-off
sg-pre-road-test | Before any road test | road-test | {_LIFT} | always
    closes: ck-safety-questions ck-wheel-nut-look ck-tyre-pressure-cold ck-pedal-static
    closes: ck-brake-lamp-look ck-leak-look
    before: su-road rp-verification-drive
sg-wheel-separation | A wheel may come off | road-test | do-not-drive
    closes: ck-wheel-nut-torque ck-hub-face-look ck-axle-nut ck-wheel-shake-12-6
    before: su-road
    sy-knock-wheel-speed > a knock in time with the wheel: loose nuts until proven otherwise
    sy-vis-nut-rust-streak > rust streaks at the wheel nuts: the nuts have been moving
    cx-wheel-off-recent sy-vib-low > a wheel was off lately and the car shakes
    cx-wheel-off-recent sy-vib-high > a wheel was off lately and the car shakes
    cx-wheel-off-recent sy-vib-wheel > a wheel was off lately and the steering wheel shakes
    cx-wheel-off-recent sy-vib-seat > a wheel was off lately and the seat shakes
    cx-wheel-off-recent sy-click-straight > a wheel was off lately and something ticks once per turn
    cx-winter-wheels sy-vib-low > the wheel set was just changed and the car shakes
    cx-winter-wheels sy-vib-high > the wheel set was just changed and the car shakes
    sy-knock-wheel-speed sy-since-tyres > it knocks since tyres or wheels were off
    cx-hub-axle-recent sy-click-straight > the axle nut was worked on and something clicks
    cx-hub-axle-recent sy-click-turn-power > the axle nut was worked on and something clicks
    cx-hub-axle-recent sy-clunk-takeup > the axle nut was worked on and the shaft clunks
    cx-hub-axle-recent !st-hub-play > the axle nut was worked on and the hub has play
    !rc-wheel-nuts-loose > loose wheel nuts were found
    !rc-wheel-stud-damage > damaged wheel studs were found
    !rc-axle-nut-loose > a loose axle nut was found
    !st-wheel-separation-risk > the safety questions point to a loose wheel
    st-wheel-separation-risk~0.02 ={_LIFT} > a loose wheel is likely enough to look first
sg-joint-separation | A joint may come apart | road-test | do-not-drive
    closes: ck-joint-unload ck-wheel-shake-12-6 ck-wheel-shake-3-9 ck-dry-park
    before: su-road
    sy-wander sy-clunk-bump age8 ={_LIFT} > an old front end wanders and clunks
    sy-vis-wheel-tilt ={_LIFT} > a wheel leans in or out
    sy-steer-loose-sudden ={_LIFT} > the steering is suddenly loose or different
    sy-since-hit sy-vis-wheel-tilt > a wheel leans since it was hit
    !rc-tie-rod-jam-nut-loose > a tie-rod lock nut is off its seat
    !rc-ball-joint-lower-separating > a ball joint is about to separate
    !rc-ball-joint-pinch-loose > a ball joint stud moves in the knuckle
    !rc-ball-joint-lower-worn > a lower ball joint is past the limit
    !rc-ball-joint-upper-worn > an upper ball joint is past the limit
    !rc-outer-tie-rod-worn > an outer tie-rod end is past the limit
    !rc-inner-tie-rod-worn > an inner tie-rod end is past the limit
    !rc-arm-rusted > a control arm or spring seat is rusted through
    !st-joint-separation-risk > the safety questions point to a loose joint
    st-joint-separation-risk~0.05 ={_LIFT} > a separating joint is likely enough to look first
sg-steering-control | Steering may not obey | road-test | {_LIFT}
    closes: ck-shaft-watch ck-freeplay-rim ck-steer-lift-free
    before: su-road
    sy-steer-notchy > the steering is notchy
    sy-freeplay > there is free play at the rim
    sy-steer-heavy > the steering is heavy or binds
    sy-steer-heavy-one-way > the steering binds one way
    sy-steer-jerk > assist comes and goes, or the wheel moves by itself
    sy-column-crunch > something crunches or knocks in the column
    sy-lamp-eps sy-intermittent > steering assist comes and goes
    !rc-steering-shaft-joint > the steering shaft joint is seized or loose
    !rc-rack-mount-loose > the steering rack moves on its mounting
    !rc-rack-binding > the steering rack binds
    !rc-column-coupler-worn > the column coupler is worn
    !st-lash > free play is past the limit
sg-structure-rust | Structure rusted through | road-test | {_LIFT}
    closes: ck-rust-probe
    before: su-road
    sy-vis-rust-scale sy-clunk-bump > heavy scale and a clunk over bumps
    sy-vis-rust-scale sy-clunk-brake > heavy scale and a clunk on braking
    sy-vis-rust-scale sy-wander > heavy scale and the car wanders
    sy-clunk-bump age8 salted > an old car of salted roads clunks
    sy-clunk-brake age8 salted > an old car of salted roads clunks on braking
    sy-wander age8 salted > an old car of salted roads wanders
    !rc-subframe-rusted =do-not-drive > the pick goes through at a subframe mount
    !rc-arm-rusted =do-not-drive > the pick goes through at an arm or spring seat
    !rc-leaf-centre-bolt =do-not-drive > the rear axle has moved on its spring
    rc-subframe-rusted~0.1 > a rusted-through subframe is likely enough to look first
    rc-arm-rusted~0.1 > a rusted-through arm is likely enough to look first
sg-brake-hydraulic | Brakes may fail | road-test | do-not-drive
    closes: ck-pedal-static ck-fluid-level ck-leak-look ck-hold-test-60s
    before: su-road
    sy-pedal-low > the pedal is low or sinks
    sy-pedal-spongy ={_LIFT} > the pedal is spongy
    sy-pedal-hard > the pedal is hard
    sy-vis-fluid-leak > fluid on a wheel or on the floor: find out which before moving
    sy-lamp-brake-red ={_LIFT} > the red brake lamp is on
    sy-chime-brake ={_LIFT} > a brake message came while driving
    sy-brake-grind > metal to metal
    sy-brake-drag ={_LIFT} > one wheel runs hot
    sy-rear-lock-damp ={_LIFT} > a rear wheel grabs
    dtc-brake-fluid ={_LIFT} > the brake fluid level code is stored
    !rc-brake-fluid-low > the brake fluid is low
    !rc-brake-line-rusted > a brake line is rusted
    !rc-brake-air > there is air in the brakes
    !rc-master-cylinder-bypass > the master cylinder leaks inside
    !rc-booster-weak > the brake booster is weak
    !rc-pads-worn-out > the pads are worn to the metal
    !st-hydraulic-leak > brake fluid escapes
    st-hydraulic-leak~0.05 ={_LIFT} > a brake leak is likely enough to look first
sg-brake-lamps | Brake lamps | road-test | {_LIFT}
    closes: ck-brake-lamp-look
    before: su-road
    dtc-brake-sw-a > a brake switch code is stored
    dtc-brake-sw-corr > a brake switch code is stored
    dtc-brake-sw-p > a brake switch code is stored
    sy-cruise-refuses > cruise control drops out
    sy-brake-lamps-wrong > brake lamps stay on or do not work
    !rc-brake-switch-fault > the brake switch is faulty
sg-tyre-failure | A tyre may fail | road-test | do-not-drive
    closes: ck-tyre-wear-read ck-tyre-spin-look ck-tyre-id-match ck-spring-look
    closes: ck-liner-rub-look
    before: su-road
    sy-tyre-bulge > a bulge or belt lump
    sy-rub-lock ={_LIFT} > a tyre rubs
    !rc-tyre-belt-shift > a tyre belt has separated
    !rc-tyre-worn-out ={_LIFT} > a tyre is at the end of its tread: look for cord
    !rc-spring-broken ={_LIFT} > a broken spring end may reach the tyre
    !rc-liner-rub ={_LIFT} > a tyre touches something fixed
    !rc-temporary-spare =lot-or-spare-limit > temporary spare: its marked speed and distance hold
    rc-tyre-belt-shift~0.1 ={_LIFT} > a separated belt is likely enough to look first
sg-false-intervention | The car may brake by itself | road-test | {_LIFT}
    closes: ck-wire-trace ck-wss-log-creep ck-yaw-zero-static
    before: su-road
    sy-lamp-esc-flash > stability control acts on a dry straight road
    sy-false-esc-curve > one brake grabs in a steady curve
    sy-false-abs-high > a brake acts by itself at road speed
    !st-esc-intervention > stability control acts when it should not
sg-srs | Restraint system near the work | work | none
    before: ck-clock-spring-check ck-imu-mount-look ck-sas-feed-check ck-carpet-wet
    before: rp-replace-clock-spring rp-recentre-wheel-spline rp-replace-coupler rp-replace-sas
    before: rp-replace-imu
    sy-lamp-airbag > the restraint lamp is on
    dtc-airbag-loop > a restraint code is stored
    !rc-clock-spring-damaged > clock spring work is due
    !rc-steering-wheel-off-spline > steering wheel work is due
    !rc-column-coupler-worn > column work is due
    !rc-imu-loose > seat or console work is due
    !rc-imu-failed > seat or console work is due
    rc-clock-spring-damaged~0.2 > the clock spring may have to be worked on
sg-spring-press | Spring compressor or press | work | none
    before: rp-replace-strut-pair rp-replace-strut-mount rp-replace-spring-pair
    before: rp-replace-bearing
    !rc-spring-broken > spring work is due
    !rc-spring-sagged > spring work is due
    !rc-strut-worn > strut work is due
    !rc-strut-bent > strut work is due
    !rc-strut-mount-worn > strut work is due
    !rc-bearing-play > bearing press or hub puller work is due
    !rc-bearing-rough > bearing press or hub puller work is due
    !rc-bearing-reversed > bearing press or hub puller work is due
    !rc-hub-flange-runout > bearing press or hub puller work is due
sg-hv | High voltage | work | none
    before: su-lift-hang su-lift-loaded su-wheel-off su-elec
    vf-hybrid-electric > the car is a hybrid or electric
sg-hot | Hot hub or rotor | work | none
    closes: ck-wheel-temp-compare
    before: su-wheel-off
    sy-smell-hot > it smells of hot brakes
    sy-brake-drag > one wheel runs hot
    !st-brake-drag > a brake drags
sg-dust | Brake dust | work | none
    before: ck-drum-look ck-rotor-measure rp-rear-shoes rp-pads-rotors-axle rp-park-brake
    !rc-rear-shoe-fault > shoe work is due
    !rc-park-brake-stuck > shoe work is due
    !rc-pads-worn-out > pad work is due
    !rc-rotor-dtv > rotor work is due
sg-driven-on-lift | Wheels driven on the lift | work | none
    before: ck-bearing-listen ck-wss-wiggle ck-diff-listen
    sy-hum-speed > listening at the hubs on the lift may be due
    sy-hum-coast > listening at the gearbox on the lift may be due
    !st-circuit-open > wiggling the lead with the wheels driven may be due
sg-clear-codes | Save before clearing | repair | none | always
    closes: ck-save-freeze-frame ck-status-bits
    before: ck-clear-and-return rp-clear-codes
sg-cal-before-align | Alignment before angle zero | repair | none
    closes: ck-align-after
    before: rp-calibrate-sas
    !rc-sas-not-calibrated > the angle zero is due: alignment and loose parts come first
    !st-sas-offset > the angle zero is due: alignment and loose parts come first
    !st-toe-split > an alignment is open
    !st-toe-front-total > an alignment is open
    !st-thrust-angle > an alignment is open
    !st-joint-play > a loose part is open
sg-align-before-parts | Tight parts before alignment | repair | none
    closes: ck-wheel-shake-12-6 ck-wheel-shake-3-9 ck-tyre-pressure-cold ck-ride-height
    before: ck-align-measure rp-alignment
    !st-joint-play > a joint is open
    !st-compliance > a bushing is open
    !st-hub-play > a bearing is open
    !st-ride-height-low > a spring or the ride height is open
    !rc-outer-tie-rod-worn > a joint is open
    !rc-inner-tie-rod-worn > a joint is open
    !rc-ball-joint-lower-worn > a joint is open
    !rc-arm-bushing-torn > a bushing is open
    !rc-bearing-play > a bearing is open
    !rc-spring-broken > a spring is open
    !rc-tyre-pressure-low > tyre pressure is not set
sg-not-inoperative | Nothing left switched off | paperwork | none | always
    closes: ck-bulb-check ck-rescan
    before: rp-report
sg-adas | Driver-assist aiming | paperwork | none
    before: rp-report
    cx-windscreen-recent > windscreen or camera work was done
    vf-camera-radar !st-thrust-angle > the thrust line was out, with driver-assist sensors fitted
    vf-camera-radar !st-ride-height-low > the ride height was out, with driver-assist sensors fitted
    vf-camera-radar !rc-spring-broken > spring work, with driver-assist sensors fitted
    vf-camera-radar !rc-strut-worn > strut work, with driver-assist sensors fitted
    vf-camera-radar !rc-ride-height-modified > ride height work, with driver-assist sensors fitted
    vf-camera-radar !rc-sas-not-calibrated > angle work, with driver-assist sensors fitted
"""
