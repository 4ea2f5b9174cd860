#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# A picture of the board, by hand: loaded, its pins placed one after the other, corrected, taken back, scaled from two points, neighbours taken,
# turned, and a reading taken between two pads. What is in the files at the end is what was done.
set -eu
. "$METERLEAF_SOURCE/tests/desktop/gui.sh"

board=$scratch/two.leafboard job=$scratch/two.leafjob
cp "$METERLEAF_SOURCE/boards/vent-controller-top.svg" "$scratch/photo.svg"
printf 'meterleaf 1\nboard "Two resistors"\nreference G\npart R1 resistor 1=P 2=M value=1k\npart D1 led anode=M cathode=G\ncondition on\n  supply plus=P minus=G voltage=5 limit=100m\n' >"$board"
printf 'meterleaf 1\njob "Two"\nboard "two.leafboard"\nunit one suspect\n' >"$job"
shot () { [ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-$1.png"; }
# at X Y: that share of the picture's widget, in thousandths.
at () {
  awk -v x="$1" -v y="$2" '$1 == "board-picture" { print int ($2 + $4 * x / 1000), int ($3 + $5 * y / 1000); exit }' "$places"
}
click_share () { click_at $(at "$1" "$2"); }

first_widget=part:R1 start "$job"
click_for view-picture board-picture
shot none
# where it says so, a click asks for the file
click_at $(at 500 500)
wait_window 'A photo or an SVG*'
press_until_gone Escape 'A photo or an SVG*'
key ctrl+i
wait_window 'A photo or an SVG*'
enter_text "$scratch/photo.svg"
rest
press_until_gone Return 'A photo or an SVG*'
wait_words notice 'Now say where the pins are*'
click notice-button
wait_words hint 'R1 1[?]*4 to go*'
wait_gone notice-box
rest
click_share 300 400
wait_words hint 'R1 2[?]*3 to go*'
wait_for pad:R1.1
click_share 400 400
wait_words hint 'D1 anode[?]*2 to go*'
key n
wait_words hint 'D1 cathode[?]*'
key p
wait_words hint 'D1 anode[?]*'
shot asked
click_share 600 300
wait_words hint 'D1 cathode[?]*1 to go*'
# the last one back, then again elsewhere
key BackSpace
wait_words hint 'D1 anode[?]*2 to go*'
wait_gone pad:D1.anode
# and the one before it, by Backspace as by undo
key BackSpace
wait_words hint 'R1 2[?]*3 to go*'
wait_gone pad:R1.2
click_share 400 400
wait_words hint 'D1 anode[?]*2 to go*'
click_share 600 300
wait_words hint 'D1 cathode[?]*1 to go*'
key ctrl+z
wait_words hint 'D1 anode[?]*2 to go*'
key ctrl+z
wait_words hint 'R1 2[?]*3 to go*'
click_share 400 400
wait_words hint 'D1 anode[?]*2 to go*'
click_share 318 402
wait_for pad:D1.anode
click_share 500 600
wait_words hint 'Every pin has its place*'
# undo and redo keep the order
key ctrl+z
wait_words hint 'D1 cathode[?]*'
key ctrl+shift+z
wait_words hint 'Every pin*'
# a pad dragged to where it belongs
before=$(place pad:D1.cathode)
xdotool mousemove $before mousedown 1
settle
for y in 620 660 700; do xdotool mousemove $(at 550 $y); settle; done
xdotool mouseup 1
rest
[ "$(place pad:D1.cathode)" != "$before" ] || fail 'the pad was not moved'
shot pinned
# by key: off the picture, back at the pointer with Enter, and a nudge with an arrow
click pad:R1.2
key Delete
wait_words hint 'R1 2[?]*1 to go*'
xdotool mousemove $(at 400 400)
rest
key Return
wait_words hint 'Every pin*'
click pad:R1.2
before=$(place pad:R1.2)
key Right Right Right
[ "$(place pad:R1.2)" != "$before" ] || fail 'the pad was not nudged'
# scale: as wide as the board is known to be; the neighbours are proposed and taken
click picture-scale
wait_words hint 'Click the first*'
click_share 300 400
wait_words hint 'Click the second*'
click_share 400 400
rest
enter_text '10,0 mm'
shot scale
key Return
wait_words notice '1 pair of nets lies*'
click notice-button
wait_window 'Neighbours on the board'
shot nears
key Return
rest
# turned a quarter and seen mirrored
click turn
rest
click mirror
rest
shot turned
# drop FILE: on the window, as from a file manager
drop () {
  "$METERLEAF_BUILD/tests/desktop/drop-source" "$1" &
  source_program=$!
  wait_window '^drop source$'
  xdotool windowmove "$id" 1400 850
  rest
  xdotool mousemove 1440 890 mousedown 1
  for where in '1430 880' '1400 850' '1300 800' '1000 600' '600 400' '590 390' '580 385'; do
    settle
    # shellcheck disable=SC2086
    xdotool mousemove $where
  done
  rest
  xdotool mouseup 1
  rest
  kill "$source_program"
  wait "$source_program" 2>/dev/null || :
}
# what is no picture is refused before anything is asked; while something is asked nothing can be dropped
printf '%%PDF-1.4' >"$scratch/manual.pdf"
drop "$scratch/manual.pdf"
wait_words notice '*manual.pdf: this is no picture*'
cp "$METERLEAF_SOURCE/boards/vent-controller-top.svg" "$scratch/back.svg"
drop "$scratch/back.svg"
wait_window 'The board has a picture already'
drop "$scratch/back.svg"
[ "$(grep -c '^choice-0 ' "$places")" = 1 ] || fail 'the same is asked twice'
click choice-1
wait_words hint 'R1 2[?]*4 to go*' # what is selected is asked first
rest
click_share 600 400
click_share 500 410
click_share 590 450
wait_words hint 'R1 1[?]*1 to go*'
# its legs go through the board: the fourth pad follows from three
click picture-carry
wait_words notice '1 pad carried over*'
wait_words hint 'Every pin*'
shot back
click picture-other
wait_words hint 'Every pin has its place*'
# a reading between two pads
key ctrl+m
click_thing_until pad:R1.1 status 'R1*1 on*'
click_thing_until pad:D1.anode status 'D1*anode on*'
enter_text 4.8
wait_words entry-understood '*4.8 V*'
key Return
rest
click_for view-both part:R1
wait_for pad:R1.1
rest
shot both
key ctrl+s
rest
has "$board" '^picture "photo.svg" scale=[0-9.]*/mm turn=90 mirror$'
has "$board" '^  pad R1.1 x=[0-9.]* y=[0-9.]*$'
has "$board" '^  pad D1.cathode x='
[ "$(grep -c '^  pad ' "$board")" = 8 ] || fail 'not eight pads'
has "$board" '^near '
has "$board" '^picture "back.svg" side=bottom$'
has "$job" '^reading one on red=R1.1 black=D1.anode volts=4.8$'
# a picture that is gone is said, and the job works all the same
kill "$program"
wait "$program" 2>/dev/null || :
rm "$scratch/photo.svg"
first_widget=part:R1 start "$job"
click view-picture
wait_words notice '*photo.svg*no such file*'
wait_for pad:R1.1
shot missing

# a board dropped on a window with work in it opens in one of its own
printf 'meterleaf 1\nboard "Chime"\npart R1 resistor 1=A 2=B\n' >"$scratch/chime.leafboard"
drop "$scratch/chime.leafboard"
wait_window '^Chime$'
