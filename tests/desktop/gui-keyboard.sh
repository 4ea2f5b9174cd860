#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# By keys alone, no click: a relay driver is drawn, joined, given values, supplied in two conditions, read; the verdict names a transistor (its
# readings are those of a base shorted to the emitter, by Ohm's law: no base voltage, no current in the coil, (12 V - 1.93 V) / 1 kΩ + 12 V / 10 kΩ
# drawn), which is logged as replaced; readings after the repair follow; saved, kept as a picture, opened again. Where the keyboard is stays to be seen.
set -eu
. "$METERLEAF_SOURCE/tests/desktop/gui.sh"

start
key ctrl+n
wait_for drawing

# add KIND [VALUE]: set down where the program finds room
add () {
  key a
  wait_for add-search
  enter_text "$1"
  key Return
  wait_gone add-search
  wait_words hint '*arrow keys and Enter*'
  key Return
  wait_gone hint
  if [ -n "${2:-}" ]; then
    enter_text "$2"
    key Return
    wait_words status "*$2"
  fi
}
add fuse
add switch
add resistor 1k
add led red
add npn
add resistor 10k
# what is taken back is named, as it is on the button's tip, until something else is done
key t
key ctrl+z
wait_words status 'Taken back: Turn R2 · R2, resistor 10k'
key ctrl+z
wait_words status 'Taken back: R2: 10k · R2, resistor'
key ctrl+y
wait_words status 'Done again: R2: 10k · R2, resistor 10k'
key shift+Tab
wait_words status 'Q1, *'
add relay

join () {
  walk_to "pin:$1"
  key Return
  wait_words hint '*joined with*'
  walk_to "pin:$2"
  key Return
  wait_words status "${2%.*}’s ${2#*.}, joined to [A-Z]*"
}
join F1.2 S1.1
join S1.2 R1.1
join R1.2 LED1.anode
join F1.2 K1.1
join K1.2 Q1.collector
join S1.2 R2.1
join R2.2 Q1.base
join Q1.emitter LED1.cathode
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-joined.png"
walk_to pin:Q1.emitter
key b
key ctrl+l
settle

key ctrl+k
wait_words hint '*red lead*'
walk_to pin:F1.1
key Return
wait_words hint '*black lead*'
walk_to pin:Q1.emitter
key Return
wait_gone hint
key ctrl+a
enter_text 12
key Tab
enter_text 200m
key Return
wait_gone supply-volts

# the other condition is a copy; the keyboard is in it then, and stays at a switch that is set
press_to condition-1 F6
press_to card-name-1 Tab
key Tab Return
wait_for menu:Copy-This-Condition
press_to menu:Copy-This-Condition Down
key Return
wait_for setting-2-S1
settle
[ "$(focused)" = condition-2 ] || fail "after the copy the keyboard is in $(focused)"
press_to setting-2-S1 Tab
key space
settle
[ "$(focused)" = setting-2-S1 ] || fail "a switch was set, the keyboard is in $(focused)"
grep -q '^focus .* hidden' "$places" && fail 'where the keyboard is cannot be seen'
sleep 4 # GTK hides it three seconds after the last key
settle
grep -q '^focus .* hidden' "$places" && fail 'where the keyboard is cannot be seen after a while'
press_to card-name-2 shift+Tab
key Return
key ctrl+a
enter_text pressed
key Return
wait_words card-name-2 pressed

# read PLACE VALUE
read () {
  press_to drawing F6
  key Escape Escape Down
  walk_to "$1"
  enter_text "$2"
  wait_words entry-understood '*V*'
  key Return Escape Escape
}
# findings: to their first button
findings () {
  for _ in $(seq 8); do
    case $(focused) in put-probes | log-repair | new-pass) return 0 ;; esac
    key F6
  done
  fail "F6 does not lead to the findings but to $(focused)"
}
key ctrl+m
read pin:Q1.collector 11.98
read pin:Q1.base 0.4m
read pin:LED1.anode 1.93
key alt+1
read pin:Q1.collector 11.99
read pin:R1.1 0.3m
key alt+2
press_to condition-1 F6
press_to supply-shows-2 Tab # it draws what R2 leads to the base: R2 is not open
key Return
wait_for ask-0
enter_text 11.3m
key Return
wait_gone ask-0
wait_words sentence 'Probably: Q1*'
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-verdict.png"

wait_for log-repair
findings
press_to log-repair Tab
key Return
wait_words ask-0 Q1
enter_text 'from the drawer'
key Return
wait_words notice 'Written in the log: replaced Q1*'
findings
press_to new-pass Tab
key Return
wait_words ask-0 'replaced Q1'
key Return
wait_words sentence 'No readings since the repair*'
read pin:Q1.collector 60m
read pin:Q1.base 0.69
wait_words sentence '*nothing is wrong*'

job=$scratch/keys.leafjob
key ctrl+s
wait_window 'Save the board and its job'
key ctrl+a
enter_text "$scratch/keys.leafboard"
key Return
wait_file "$job"
has "$job" '^log .* replaced Q1'
key ctrl+e
wait_window 'Save the picture'
key ctrl+a
enter_text "$scratch/keys.png"
key Return
wait_file "$scratch/keys.png"
key ctrl+p
wait_for button:Preview
key Escape
wait_gone button:Preview
kill "$program"
wait "$program" 2>/dev/null || :
first_widget=part:Q1 start "$job"
wait_words sentence '*nothing is wrong*'
