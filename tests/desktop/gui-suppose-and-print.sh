#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# By hand: a part is supposed open from its menu, what should be read follows, the printed sheet says what is supposed, and Esc ends it; a part
# is looked at in all conditions at once, and a place of that table leads to the probes there.
set -eu
. "$METERLEAF_SOURCE/tests/desktop/gui.sh"
command -v pdftotext >/dev/null || { echo 'pdftotext is missing'; exit 77; }

cp "$METERLEAF_SOURCE/boards/signal-board.leafboard" "$METERLEAF_SOURCE/boards/signal-board.leafjob" "$scratch"
cd "$scratch" # GTK prints to output.pdf in the folder that the program was started from
first_widget=part:R3 start "$scratch/signal-board.leafjob"
wait_words sentence '*R3*'
# in "ahead" R2 carries the current of the green LEDs; with D5 open it has none
click_thing_until part:R2 status 'R2, resistor 560R*should read 6.* V across*'
click part:D5 3
click menu:Suppose-It-Is
click menu:Open
wait_words status 'D5, diode*'
click_thing_until part:R2 status 'R2, resistor 560R*would read 0*V across*'
# what is supposed is said over the drawing however near one looks, and a click ends it
wait_words supposing 'Supposing D5 open*'
key ctrl+plus ctrl+plus ctrl+plus
wait_words supposing 'Supposing D5 open*'
grep -q '^stop-supposing ' "$places" || fail 'no button ends it'
key ctrl+0
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-supposed.png"

# any size: R2 of ten times its value carries less current; what is no size is asked for again
click part:R2 3
click menu:Suppose-It-Is
click menu:Of-another-value…
wait_for ask-0
enter_text lots
key Return
wait_words ask-trouble 'Type another value in ohms*'
key ctrl+a
enter_text 'x1000'
key Return
wait_words supposing 'Supposing R2 drifted high, about 1000 times its value'
key Escape
click part:D5 3
click menu:Suppose-It-Is
click menu:Open
wait_words supposing 'Supposing D5 open*'

# print_sheet: from the menu through GTK's dialog into a file
print_sheet () {
  rm -f "$scratch/output.pdf"
  click_for main-menu menu:Print-the-Drawing…
  click menu:Print-the-Drawing…
  wait_window Print
  wait_for button:Print
  key Tab
  key Down
  for _ in $(seq 100); do
    grep -q '^button:Print .* off$' "$places" || break
    sleep 0.05
  done
  [ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-print.png"
  click button:Print
  wait_gone button:Print
  wait_file "$scratch/output.pdf"
  for _ in $(seq 100); do
    pdftotext "$scratch/output.pdf" "$scratch/printed.txt" 2>/dev/null && return 0
    sleep 0.05
  done
  fail 'the printed sheet cannot be read'
}
print_sheet
grep -q 'supposing D5 open' "$scratch/printed.txt" || { cat "$scratch/printed.txt" >&2; fail 'the sheet does not say what is supposed'; }
click_thing_until part:R2 status 'R2, resistor 560R*would read 0*V across*'
click stop-supposing
wait_gone supposing
click_thing_until part:R2 status 'R2, resistor 560R*should read 6.* V across*'
print_sheet
grep -q 'supposing' "$scratch/printed.txt" && fail 'the sheet still says what was supposed'
grep -q 'Two-aspect signal' "$scratch/printed.txt" || fail 'the sheet has no title'

# R3 in all conditions: read in "stop" only
click_thing_until part:R3 status 'R3, resistor*'
click all-conditions
wait_words place-title 'R3, resistor*'
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-places.png"
wait_for place-1-2
click_for place-1-2 entry-understood
wait_words entry-text ''
key Escape Escape
# by the keyboard alone
click_thing_until part:R2 status 'R2, resistor*'
key k
wait_words place-title 'R2, resistor*'
key Escape
wait_gone place-title
key k
wait_words place-title 'R2, resistor*'
key Return
wait_for entry-understood
