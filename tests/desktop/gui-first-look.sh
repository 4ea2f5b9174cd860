#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# A first-time user: the demo from the start page names its culprit (the solder joint at Q1's emitter, for which its readings were made)
# without anything being read or set; then a broken file is opened, its error gone to, mended and read again.
set -eu
. "$METERLEAF_SOURCE/tests/desktop/gui.sh"

start
click_for start-demo sentence
wait_words sentence '*Q1*emitter*'
wait_for explanation-1
click_thing_until part:R1 status 'R1, resistor 1k2*should read*'
# a card is chosen wherever it is clicked, beside its buttons too
set -- $(sed -n "s/^card-2 //p" "$places")
click_at $(($1 + $3 - 3)) $(($2 + $4 - 3))
click_thing_until pin:Q1.emitter status 'Q1’s emitter on *should read *'
should=$(words status | sed 's/.*should read \([^·]*V\).*/\1/')
enter_text 2,7
wait_words entry-understood '*2.7 V*'
wait_words entry-fine "If all is fine: $should" # one number for one thing, in the line below and here
key Escape
# behind a chip nobody knows 0.3 mV may be read as well as 0.6 V: not wrong, and no praise either
click_thing_until pin:Q2.base status 'Q2’s base on *should read *'
enter_text 0,3m
wait_words entry-question 'A sound board may read this too'
key Escape
# the lamp was measured at rest: what a sound one may read, this one does not
click_thing_until pin:LED1.anode status 'LED1’s anode on *should read 2.12 V*'
enter_text 1,93
wait_words entry-question 'A sound board may read this, but by the other readings it should be 2.03 V'
key Escape
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-demo.png"
# a slip of the finger while measuring does not begin to draw: the next clicks would join pins
key a
rest
wait_gone add-search
wait_words hint ''
click_thing_until pin:R1.1 status 'R1’s 1 on *'
key Escape
# digits and letters are the drawing's, whatever was clicked last
click_thing_until part:R3 status 'R3, *'
click explanation-1
enter_text 1.2
wait_words entry-text 1.2
key Escape
click mode-draw
key a
wait_for add-search
key Escape
wait_gone add-search
click mode-measure
click condition-1
key n
wait_words hint 'Type what the meter shows*'
key Escape Escape
# what is sure can be written in the log from the findings, and leads to a new pass that knows of it
click log-repair
wait_words ask-0 Q1
enter_text 'joint looked grey' # the part is known: the note is asked for
wait_words ask-1 'joint looked grey'
key Return
wait_words notice 'Written in the log: resoldered Q1*'
wait_words mended 'The log says that Q1 was resoldered. Measure again in a new pass.' # when the notice is gone, too
wait_for new-pass
click notice-button
wait_words ask-0 'resoldered Q1'
key Return
wait_words sentence 'No readings since the repair*'
wait_words power-up 'For the first power-up set the limit to * mA: in * a sound board draws * mA.'
wait_for next-condition
# it is read before the reading that is to be taken then, and nothing of it lies under that
settle
awk '$1 == "power-up" { end = $3 + $5 } $1 == "next-condition" { begin = $3 } END { exit !(end && begin && end + 12 + 8 < begin) }' "$places" ||
  fail "the limit for the power-up does not stand above what is next: $(grep -e '^power-up' -e '^next-condition' "$places")"
# what the unknown chip does is known from the good unit, whose supply showed 17.23 mA in this condition; without it both conditions draw 39 mA
key alt+1
wait_words power-up 'For the first power-up set the limit to * mA: in rest a sound board draws 1[78] mA.'
# a part that is written in the log is known by its name, in small letters too; one that is not there is asked for again
click_for unit-button menu:Replaced-a-Part…
click menu:Replaced-a-Part…
click ask-0
key ctrl+a BackSpace Return
wait_words ask-trouble 'Which part was it*'
click ask-0
enter_text q11
key Return
wait_words ask-trouble '*no part “q11”*did you mean Q1?'
key BackSpace Return
wait_words notice 'Written in the log: replaced Q1*'
# the demo stays what it is: saving asks for another name
key ctrl+s
wait_window 'Save the board and its job'
key Escape
rest
kill "$program"
wait "$program" 2>/dev/null || :

printf 'meterleaf 1\nreference MINUS\npart R1 resistr 1=A 2=MINUS value=1k\npart R2 resistor 1=A 2=MINUS value=2k\n' >"$scratch/broken.leafboard"
first_widget=read-again start "$scratch/broken.leafboard"
wait_for diagnostic-0
click diagnostic-0
key Home
key --repeat 14 Right
enter_text o
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-broken.png"
click read-again
click_for back-to-drawing part:R1
wait_for part:R2
