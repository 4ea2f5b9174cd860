#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Keeping one's work: by the keyboard alone from the first page to the demo; a file that cannot be written says so until it can; a name typed
# without its ending writes over nothing unasked; what a killed program left is offered, and thrown away only when that is confirmed.
set -eu
. "$METERLEAF_SOURCE/tests/desktop/gui.sh"

start
key Tab Tab Return # the first way in has the focus at first; the third one is the demo
wait_words sentence '*Q1*emitter*'
kill "$program"
wait "$program" 2>/dev/null || :

mkdir "$scratch/kept"
printf 'meterleaf 1\nreference M\npart R1 resistor 1=A 2=M value=1k\npart R2 resistor 1=A 2=M value=2k\ncondition on\n  supply plus=A minus=M voltage=5\ncondition twice\n  supply plus=A minus=M voltage=10\n' >"$scratch/kept/one.leafboard"
printf 'meterleaf 1\nboard "one.leafboard"\nunit bench suspect "dead"\n' >"$scratch/kept/one.leafjob"
first_widget=part:R1 start "$scratch/kept/one.leafjob"
click_thing_until part:R1 status 'R1, *'
enter_text 4,9
wait_words entry-understood '*4.9 V*'
key Return
wait_words status '*reads 4.90*'
key Escape Escape

# no file can be made there: the notice says so, and goes once the work is saved where it was
key ctrl+shift+s
wait_window 'Save the board*'
key ctrl+a
enter_text /proc/meterleaf-keep
key Return
wait_words notice '*could not be saved*'
key ctrl+s
wait_gone notice-box
grep -q 'across=R1 volts=4.9' "$scratch/kept/one.leafjob" || fail 'the reading is not in the file'

# text typed into the file and not taken yet is not thrown away by a button of the bench strip
key ctrl+t
click file-text
key ctrl+End
enter_text '# typed last'
click turn-supply
wait_for back-to-drawing
key ctrl+s
has "$scratch/kept/one.leafboard" '^# typed last'
has "$scratch/kept/one.leafboard" 'supply plus=M minus=A voltage=5'
key ctrl+z ctrl+z ctrl+s
click back-to-drawing
wait_for part:R1

# another board is there by that name, only with its ending
printf 'meterleaf 1\npart R9 resistor 1=X 2=Y\n' >"$scratch/kept/other.leafboard"
key ctrl+shift+s
wait_window 'Save the board*'
key ctrl+a
enter_text "$scratch/kept/other"
key Return
wait_window 'The file exists already'
key Escape
grep -q R9 "$scratch/kept/other.leafboard" || fail 'the other board was written over'

# killed with work unsaved: offered, discarded only when asked twice
key alt+2
click_thing_until part:R2 status 'R2, *'
enter_text 4,8
key Return
has "$XDG_STATE_HOME/meterleaf/last-views" '^condition=twice'
kill -9 "$program"
wait "$program" 2>/dev/null || :
# many times: the newest are shown, the others on demand, and the ways in stay in sight
for journal in "$XDG_STATE_HOME"/meterleaf/*/*; do
  case $journal in *.lock) continue ;; esac
  for n in 1 2 3 4 5 6; do cp "$journal" "${journal%/*}/0$n-${journal##*/}"; done
done
first_widget=discard start
wait_for more-left-over
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-left-over.png"
[ "$(grep -c '^recover ' "$places")" = 2 ] || fail 'not two of the seven are shown'
awk '$1 == "start-draw" { end = $3 + $5 } END { exit !(end > 0 && end < 600) }' "$places" || fail 'the ways in are out of sight'
click more-left-over
wait_gone more-left-over
[ "$(grep -c '^recover ' "$places")" = 7 ] || fail 'not all that is left is shown'
rm "$XDG_STATE_HOME"/meterleaf/*/0[1-6]-*
click discard
wait_window 'Discard the unsaved work*'
key Escape
wait_for recover
kill "$program"
wait "$program" 2>/dev/null || :
first_widget=recover start
key Return # the first button of the page: it brings back, it throws nothing away
wait_for part:R2
# and goes on where it was left
click_thing_until part:R2 status 'R2, *reads 4.8*'
key ctrl+s
for _ in $(seq 100); do
  grep -q 'across=R2 volts=4.8' "$scratch/kept/one.leafjob" && break
  sleep 0.05
done
grep -q 'across=R2 volts=4.8' "$scratch/kept/one.leafjob" || fail 'what was recovered was not saved'

# a job whose board was moved: its errors offer to find it, and it is found for good
kill "$program"
wait "$program" 2>/dev/null || :
mkdir "$scratch/moved"
mv "$scratch/kept/one.leafboard" "$scratch/moved/renamed.leafboard"
first_widget=find-board start "$scratch/kept/one.leafjob"
wait_words sentence '*Find the Board*'
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-missing.png"
click find-board
wait_window 'Find the board of this job'
enter_text "$scratch/moved/renamed.leafboard"
rest
press_until_gone Return 'Find the board of this job'
wait_for part:R2
wait_gone find-board
wait_words sentence '*R2*'
key ctrl+s
has "$scratch/kept/one.leafjob" "^board .*moved/renamed.leafboard"

# where the journal cannot be written that is said, with the way out, until it can be
kill "$program"
wait "$program" 2>/dev/null || :
rm -rf "$XDG_STATE_HOME/meterleaf/journal"
: >"$XDG_STATE_HOME/meterleaf/journal" # a file where the folder should be
first_widget=part:R1 start "$scratch/kept/one.leafjob"
click_thing_until part:R1 status 'R1, *'
enter_text 4,8
key Return Escape Escape
wait_words notice 'Changes are not safe until you save: *'
wait_for notice-button
rm "$XDG_STATE_HOME/meterleaf/journal"
click_thing_until part:R2 status 'R2, *'
enter_text 4,7
key Return Escape Escape
wait_gone notice-box
ls "$XDG_STATE_HOME/meterleaf/journal"/*.journal >/dev/null || fail 'there is still no journal'
