#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# By hand: an electrolytic capacitor has a plus and a minus, a block's pin gets its name (and the job follows), so do net, condition, unit and chip by
# what a person calls them, a potentiometer is turned on the condition's card, and a reading is taken from the part's own metal instead of the solder.
set -eu
. "$METERLEAF_SOURCE/tests/desktop/gui.sh"

board=$scratch/pot.leafboard job=$scratch/pot.leafjob
printf 'meterleaf 1\nboard "Dimmer"\nreference G\npart RV1 potentiometer 1=P 2=G wiper=W value=10k\npart U1 block 1=P 2=G 3=W\ncondition on\n  supply plus=P minus=G voltage=5 limit=100m\n' >"$board"
printf 'meterleaf 1\njob "Dimmer"\nboard "pot.leafboard"\nunit one suspect\nreading one on red=U1.3 black=P volts=-2.5\n' >"$job"
first_widget=part:RV1 start "$job"
# the wiper
wait_for setting-1-RV1
click setting-1-RV1
wait_window 'Where RV1 stands'
enter_text '30 %'
key Return
rest
# a reading at the leg
click_thing_until pin:U1.3 status 'U1*3 on*'
key l
enter_text 1.5
wait_words entry-understood '*1.5 V*'
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-lead.png"
key Return
rest
key Escape Escape
# a name for a pin
key ctrl+d
click pin:U1.3
key Escape
key shift+F2
rest
key ctrl+a
enter_text DRIVE
key Return
wait_for pin:U1.DRIVE
# names as a person says them: what no name may hold is made to fit, of nets, conditions and units
click pin:RV1.1
key w
rest
key ctrl+a
enter_text '3.3 V'
key Return
wait_words status '*3V3*'
key Escape
click_for card-more-1 menu:Name…
click menu:Name…
rest
key ctrl+a
enter_text 'lamp on'
key Return
wait_words card-name-1 lamp-on
click_for unit-button menu:Add-a-Good-Unit…
click_for menu:Add-a-Good-Unit… ask-0
enter_text 'hall 2'
key Return
wait_gone ask-0
# what a number alone does not tell of a part is said by name
click part:RV1 3
click 'menu:Value-of-the-Part…'
wait_words line-title 'What is printed on RV1, or its value, also position=…'
key Escape
wait_gone line-title
# the print on a chip that nobody knows
click part:U1
enter_text 'AX 5521'
key Return
wait_words status '*AX-5521*'
# the capacitor with a polarity
key Escape
key a
wait_for add-search
enter_text electro
rest
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-electro.png"
key Return
rest
set -- $(awk '$1 == "drawing" { print int ($2 + $4 * 0.8), int ($3 + $5 * 0.2); exit }' "$places")
click_at "$1" "$2"
wait_for pin:C1.plus
wait_for pin:C1.minus
key ctrl+s
rest
has "$board" '^part C1 capacitor plus=- minus=-'
has "$board" '^  set RV1 position=30%'
has "$board" '^part U1 AX-5521 1=3V3 2=G DRIVE=W'
has "$job" '^reading one lamp-on red=U1.DRIVE black=3V3 volts=-2.5'
has "$job" '^reading one lamp-on red=U1.DRIVE/lead volts=1.5'
has "$job" '^unit hall-2 good'
has "$board" '^datasheet AX-5521 block'
