#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# The whole job by hand: from the empty page the model-railway signal board is drawn part by part, its conditions set, its readings typed.
# The verdict must name the part that the demo's readings were made for (R3; the truth program of the tests computed them), and the saved
# board must solve to the same voltages as the demo's file.
set -eu
. "$METERLEAF_SOURCE/tests/desktop/gui.sh"

start
click start-draw
wait_for drawing
# shellcheck disable=SC2046
set -- $(awk '$1 == "drawing" { print $2, $3, $4, $5 }' "$places")
left=$1 top=$2 width=$3 height=$4

# add KIND COLUMN ROW [VALUE]: a part set at a place of a grid of 5 x 4.
add () {
  x=$((left + width * (2 * $2 - 1) / 10)) y=$((top + height * (2 * $3 - 1) / 8))
  xdotool mousemove "$x" "$y"
  sleep 0.05
  key a
  wait_for add-search
  enter_text "$1"
  key Return
  wait_gone add-search
  click_at "$x" "$y"
  key Escape
  if [ -n "${4:-}" ]; then
    key v
    enter_text "$4"
    key Return
  fi
}

add fuse 1 1
add diode 2 1
add diode 3 1
add diode 4 1
add diode 5 1
add electrolytic 1 2 47u
add resistor 2 2 1k5
add led 3 2 yellow
add diode 4 2
add resistor 5 2 560
add led 1 3 green
add led 2 3 green
add diode 3 3
add resistor 4 3 680
add led 5 3 red
add led 1 4 red
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-parts.png"

join () {
  click "pin:$1"
  click "pin:$2"
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
key Escape
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-joined.png"
