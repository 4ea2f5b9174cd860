#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# By hand: every supply and load of a condition is shown, turned round, changed and read on its card; a supply and a condition that readings speak of go
# only when that is said, the readings of the supplies behind follow, and undo brings all back byte for byte.
set -eu
. "$METERLEAF_SOURCE/tests/desktop/gui.sh"

board=$scratch/two.leafboard job=$scratch/two.leafjob
cat >"$board" <<'END'
meterleaf 1
board "Two supplies"
reference G
part R1 resistor 1=A 2=B value=1k
part R2 resistor 1=B 2=G value=1k
part R3 resistor 1=C 2=B value=2k2
condition both "main and auxiliary"
  supply plus=A minus=G voltage=12 limit=200m
  supply plus=C minus=G voltage=5 limit=100m
condition main
  supply plus=A minus=G voltage=12 limit=200m
END
cat >"$job" <<'END'
meterleaf 1
job "Two supplies"
board "two.leafboard"
unit one suspect
reading one both supply=1 amps=6.5m
reading one both supply=2 amps=-0.3m
reading one both red=B volts=5.7
reading one main red=B volts=6.01
END
cp "$job" "$scratch/job.before"
hasnt () { ! grep -q -- "$2" "$1" || { cat "$1" >&2; fail "'$2' in $1"; }; }
# saved FILE WORDS: the window's work is saved until the file has these words.
saved () {
  for _ in $(seq 60); do
    key ctrl+s
    ! grep -q -- "$2" "$1" || return 0
    sleep 0.1
  done
  cat "$1" >&2
  fail "no '$2' saved in $1"
}
# as_it_was: the board but for the places that the window writes, the job byte for byte
cp "$board" "$scratch/board.before"
as_it_was () {
  grep -v '^place ' "$board" | cmp - "$scratch/board.before"
}
# choose NAME-OF-BUTTON ENTRY: from the menu behind that button.
choose () {
  click_for "$1" "menu:$2"
  click "menu:$2"
  wait_gone "menu:$2"
}

first_widget=part:R1 start "$job"
# the second supply, on its own row
wait_for turn-supply-2
click turn-supply-2
saved "$board" '^  supply plus=G minus=C voltage=5 limit=100m'
click edit-supply-2
click supply-volts
key ctrl+a
enter_text -3.3
key Return
wait_words supply-trouble '*not negative*turn the supply round*'
key ctrl+a
enter_text 3.3G
key Return
wait_words supply-trouble '*expected 1 nV to 1 MV*'
key ctrl+a
enter_text 3.3
key Return
wait_gone supply-volts
saved "$board" '^  supply plus=G minus=C voltage=3.3 limit=100m'
has "$board" '^  supply plus=A minus=G voltage=12 limit=200m'
click_for supply-shows-1-2 ask-0
key ctrl+a
enter_text 1.5m
key Return
wait_gone ask-0
saved "$job" '^reading one both supply=2 amps=1.5m'
key ctrl+z
key ctrl+z
key ctrl+z
saved "$board" '^  supply plus=C minus=G voltage=5 limit=100m'
as_it_was
cmp "$job" "$scratch/job.before"

# a load is clipped on as a supply is, changed by a click on what the card says of it, and taken off from the menu
choose card-more-2 Add-a-Load…
wait_words hint '*plus end*'
click pin:R1.2
wait_words hint '*minus end*'
click pin:R2.2
rest
key Return
wait_words load-trouble 'How many ohms*'
enter_text 47
key Tab
enter_text 20m
key Return
wait_words load-trouble '*not both*'
key ctrl+a BackSpace Return
wait_gone load-ohms
saved "$board" '^  load plus=B minus=G current=20m'
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-load.png"
click_for load-2-1 load-ohms
key ctrl+a
enter_text -5m
key Return
wait_words load-trouble '*above zero*'
key ctrl+a BackSpace
click load-ohms
enter_text 4k7
key Return
wait_gone load-ohms
saved "$board" '^  load plus=B minus=G value=4.7k'
choose card-more-2 Remove-the-load-4.7-kΩ-at-B
wait_gone load-2-1
key ctrl+z
wait_for load-2-1
key ctrl+z
key ctrl+z
wait_gone load-2-1
saved "$board" '^condition main$'
as_it_was
cmp "$job" "$scratch/job.before"

# a supply goes: its reading too, and that of the supply behind it follows
choose card-more-1 Remove-Supply-1
wait_for choice-0
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-ask.png"
wait_words question-text '*supply 1 of both takes 1 reading*'
click choice-1
wait_gone choice-1
wait_for turn-supply-2
choose card-more-1 Remove-Supply-1
click choice-0
wait_gone turn-supply-2
saved "$job" '^reading one both supply=1 amps=-0.3m'
hasnt "$job" 'amps=6.5m'
has "$board" '^  supply plus=C minus=G voltage=5 limit=100m'

# so does a condition
choose card-more-2 Remove-This-Condition
wait_words question-text '*condition main takes 1 reading*'
click choice-0
wait_gone card-2
saved "$board" '^condition both'
hasnt "$board" '^condition main'
hasnt "$job" ' main '

# one that holds nothing goes at once
click_for add-condition card-2
key Escape
choose card-more-2 Remove-This-Condition
wait_gone card-2

key ctrl+z
key ctrl+z
key ctrl+z
click_for undo turn-supply-2

# a new card that finds no room is scrolled into view
click_for add-condition card-3
key Escape
click_for add-condition card-4
# shown THING: it ends before the button that adds one more begins
shown () {
  awk -v name="$1" '$1 == name { end = $2 + $4 } $1 == "add-condition" { begin = $2 } END { exit !(end > 0 && end <= begin) }' "$places"
}
for _ in $(seq 100); do
  ! shown lead-black || break
  sleep 0.05
done
shown lead-black || fail 'the new card is not in view'
key Escape
key ctrl+z
key ctrl+z
saved "$job" 'amps=6.5m'
as_it_was
cmp "$job" "$scratch/job.before"

# Esc leaves the click that is waited for, once more the form, and a condition without a supply is the cold board
click_for add-condition card-3
wait_words hint '*red lead*'
key Escape
wait_gone hint
key Escape
wait_gone supply-done
wait_words card-name-3 cold
key ctrl+z ctrl+z
wait_gone card-3

# while a supply's form is open nothing is suggested in its condition; Esc leaves the form
wait_for put-probes
suggested=$(sed -n 's/^text next-condition Condition: //p' "$places")
for n in 1 2 3 4; do [ "$(words "card-name-$n")" != "$suggested" ] || { click "card-more-$n"; break; }; done
click_for "menu:Supply-1…" supply-done
wait_gone put-probes
key Escape
wait_gone supply-done
wait_for put-probes

# a reading at the wrong place is taken out where it stands, and what a supply showed by leaving its question empty
click condition-1
click_thing_until pin:R2.1 status 'R2’s 1 on B*'
key Delete
wait_words notice '*removed*'
saved "$job" 'supply=2 amps=-0.3m'
hasnt "$job" 'red=B volts=5.7'
has "$job" '^reading one main red=B volts=6.01'
key ctrl+z
click_for supply-shows-1-2 ask-0
wait_words ask-0 '-300u'
key ctrl+a BackSpace Return
wait_gone ask-0
saved "$job" 'red=B volts=5.7'
hasnt "$job" 'amps=-0.3m'
key ctrl+z
saved "$job" 'amps=-0.3m'
cmp "$job" "$scratch/job.before"

# a condition like another one
choose card-more-1 Copy-This-Condition
wait_words card-name-3 both-2
saved "$board" '^condition both-2 "main and auxiliary"'
[ "$(grep -c '^  supply plus=C minus=G voltage=5 limit=100m' "$board")" = 2 ] || fail 'the copy lacks a supply'
key ctrl+z
wait_gone card-3

# a unit is called otherwise, and one that holds readings goes only when that is said
click_for unit-button menu:Name-of-This-Unit…
click_for menu:Name-of-This-Unit… ask-0
key ctrl+a
enter_text 'bay 7'
key Tab
enter_text 'hums'
key Return
wait_gone ask-0
saved "$job" '^reading bay-7 both supply=1 amps=6.5m'
has "$job" '^unit bay-7 suspect "hums"'
click_for unit-button menu:Add-a-Good-Unit…
click_for menu:Add-a-Good-Unit… ask-0
enter_text spare
key Return
wait_gone ask-0
click_for unit-button menu:bay-7,-suspect:-hums
click menu:bay-7,-suspect:-hums
click_for unit-button menu:Remove-This-Unit
click menu:Remove-This-Unit
wait_words question-text '*unit bay-7 takes 4 readings*'
click choice-0
wait_gone choice-0
saved "$job" '^unit spare good'
hasnt "$job" 'bay-7'
key ctrl+z
key ctrl+z
key ctrl+z
saved "$job" 'amps=6.5m'
cmp "$job" "$scratch/job.before"

# one more supply clipped to where another is: taken, since it may be so on the bench, and said; the leads are clicked on the drawing
choose card-more-2 Add-a-Supply…
wait_words hint '*red lead*'
click pin:R1.1
wait_words hint '*black lead*'
click pin:R2.2
rest
enter_text 9
key Return
wait_words notice 'Two supplies are on the same two places*'
saved "$board" '^  supply plus=A minus=G voltage=9'

# where the supply's current is suggested next, its question opens at once, and no probe takes what is typed
kill "$program"
wait "$program" 2>/dev/null || :
board=$scratch/bell.leafboard job=$scratch/bell.leafjob
cat >"$board" <<'END'
meterleaf 1
reference G
part F1 fuse 1=IN 2=A
part K1 coil 1=A 2=G resistance=100
part R1 resistor 1=A 2=G value=1k
condition cold
condition on
  supply plus=IN minus=G voltage=12 limit=500m
END
printf 'meterleaf 1\nboard "bell.leafboard"\nunit one suspect\nreading one on red=A volts=11.97\n' >"$job"
first_widget=part:R1 start "$job"
click condition-1
click_thing_until pin:R1.1 status 'R1’s 1 on A*'
for _ in $(seq 12); do
  ! place read-supply >/dev/null 2>&1 || break
  click another-reading
done
click_for read-supply ask-0
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-shows.png"
enter_text 130m
key Return
wait_gone ask-0
wait_gone hint
saved "$job" '^reading one on supply=1 amps=130m'
hasnt "$job" 'volts=130m'
