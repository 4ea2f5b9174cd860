#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# The whole job by hand: from the empty page the model-railway signal board is drawn part by part, its conditions set, its readings typed.
# The verdict must name the part that the demo's readings were made for (R3; the truth program of the tests computed them), and the saved
# board must solve to the same voltages as the demo's file.
set -eu
. "$METERLEAF_SOURCE/tests/desktop/gui.sh"

start_drawing 5 4

add F1 fuse 1 1
add D1 diode 2 1
add D2 diode 3 1
add D3 diode 4 1
add D4 diode 5 1
add C1 electrolytic 1 2 47u
add R1 resistor 2 2 1k5
add LED1 led 3 2 yellow
add D5 diode 4 2
add R2 resistor 5 2 560
add LED2 led 1 3 green
add LED3 led 2 3 green
add D6 diode 3 3
add R3 resistor 4 3 680
add LED4 led 5 3 red
add LED5 led 1 4 red
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-parts.png"

# join PIN PIN: each given as PART.PIN.
join () {
  click "pin:$1"
  wait_words status "${1%.*}’s ${1#*.}*"
  click "pin:$2"
  wait_words status "${1%.*}’s ${1#*.}, joined to [A-Z]*"
  wait_gone hint
}

join F1.2 D1.anode
join D1.cathode D2.cathode
join D3.cathode F1.2
join D3.anode D4.anode
join D4.cathode D2.anode
join C1.plus D1.cathode
join C1.minus D3.anode
join R1.1 D1.cathode
join R1.2 LED1.anode
join LED1.cathode D3.anode
join D5.anode F1.2
join D5.cathode R2.1
join R2.2 LED2.anode
join LED2.cathode LED3.anode
join LED3.cathode D2.anode
join D6.anode D2.anode
join D6.cathode R3.1
join R3.2 LED4.anode
join LED4.cathode LED5.anode
join LED5.cathode F1.2
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-joined.png"

# The black probe rests on the bridge's minus.
click pin:D3.anode
click set-reference
key Escape

# condition RED BLACK: a new one, supplied with 12 V, at most 200 mA, its leads clipped to two pins.
condition () {
  click add-condition
  click "pin:$1"
  click "pin:$2"
  click supply-volts
  key ctrl+a
  enter_text 12
  click supply-limit
  enter_text 200m
  key Return
  wait_gone supply-volts
}

condition F1.1 D2.anode
condition D2.anode F1.1
# one without a supply is the cold board, and no click is waited for any more
click add-condition
wait_words hint '*red lead goes*'
wait_left_of card-3 add-condition 16 # it is brought wholly into view, with its frame
click_until_gone supply-cancel
wait_words card-name-3 cold
wait_gone hint
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-conditions.png"

# read_at RED BLACK VOLTS: between two pins; read_across PART VOLTS: red on the first pin; read_net PIN VOLTS: against the reference.
read_at () {
  click_thing_until "pin:$1" status "${1%.*}’s ${1#*.}*"
  click_thing_until "pin:$2" status "${2%.*}’s ${2#*.}*"
  enter_text "$3"
  wait_words entry-understood '*V*'
  key Return Escape Escape
}

read_across () {
  click_thing_until "part:$1" status "$1, *"
  enter_text "$2"
  wait_words entry-understood '*V*'
  key Return Escape Escape
}

read_net () {
  click_thing_until "pin:$1" status "${1%.*}’s ${1#*.}*"
  enter_text "$2"
  wait_words entry-understood '*V*'
  key Return Escape Escape
}

read_supply () {
  click_for "supply-shows-$1" ask-0
  enter_text "$2"
  key Return
  wait_gone ask-0
}

click mode-measure
click condition-1
read_at F1.1 D2.anode 11.97
read_net D1.cathode 10.58
read_across LED1 1.914
read_across R2 6.64
read_across LED2 2.287
read_across LED3 2,315
read_supply 1 17.73m
click condition-2
read_at D2.anode F1.1 11.97
read_net D1.cathode 10.62
read_across D6 '658 mV'
read_across R3 7.69
read_across LED4 1.830
read_across LED5 1.804
read_across D5 -2.1m
read_supply 2 9.57m
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-read.png"
wait_words sentence '*R3*'

# Saved, the board solves to the demo's voltages and the job gives the demo's verdict.
saved=$scratch/drawn.leafboard
key ctrl+s
wait_window 'Save the board and its job'
key ctrl+a
enter_text "$saved"
key Return
wait_file "$scratch/drawn.leafjob"
wait_words sentence '*R3*'

# volts FILE: "condition part volts" of the first two conditions, in plain volts.
volts () {
  "$build/src/command/meterleaf" solve "$1" | awk '
    BEGIN { scale["V"] = 1; scale["mV"] = 1e-3; scale["µV"] = 1e-6; scale["nV"] = 1e-9 }
    /^[^ ]/ { condition++ }
    $1 == "part" && condition <= 2 { unit = $4; for (u in scale) if (index ($4, u) == 1) unit = u; print condition, $2, $3 * scale[unit] }'
}
volts "$METERLEAF_SOURCE/boards/signal-board.leafboard" >"$scratch/demo"
volts "$saved" >"$scratch/drawn"
[ "$(wc -l <"$scratch/demo")" = 32 ] || fail "the demo solves to $(wc -l <"$scratch/demo") parts"
paste -d ' ' "$scratch/demo" "$scratch/drawn" | awk '
  { difference = $3 - $6; if (difference < 0) difference = -difference; limit = 1e-3 + 1e-3 * ($3 < 0 ? -$3 : $3) }
  $1 != $4 || $2 != $5 || difference > limit { print "drawn differs from demo:", $0; bad = 1 } END { exit bad }' || fail 'the drawn board is not the demo'
"$build/src/command/meterleaf" judge "$scratch/drawn.leafjob" >"$scratch/verdict"
grep -q '^suspect *R3$' "$scratch/verdict" || fail "the verdict is: $(cat "$scratch/verdict")"
