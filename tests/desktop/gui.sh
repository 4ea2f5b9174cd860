# SPDX-License-Identifier: GPL-3.0-or-later
# shellcheck shell=sh
# Helpers for tests that use the window as a person does: real clicks and key presses by xdotool, screen places from the file that the
# program writes for METERLEAF_TEST_GEOMETRY. Sourced. Exit status 77 tells Meson that the test was skipped.

[ -n "${DISPLAY:-}" ] || { echo 'no display'; exit 77; }
command -v xdotool >/dev/null || { echo 'xdotool is missing'; exit 77; }

source=${METERLEAF_SOURCE:?} build=${METERLEAF_BUILD:?}
scratch=$(mktemp -d)
places=$scratch/places
program=
export METERLEAF_TEST_GEOMETRY="$places" HOME="$scratch" XDG_STATE_HOME="$scratch/state" XDG_CACHE_HOME="$scratch/cache"
export XDG_DATA_HOME="$scratch/data" XDG_CONFIG_HOME="$scratch/config"

gui_end () {
  status=$?
  if [ "$status" != 0 ] && [ "$status" != 77 ] && [ -n "${METERLEAF_TEST_SHOT:-}" ]; then import -window root "$METERLEAF_TEST_SHOT" || :; fi
  if [ -n "$program" ] && kill "$program" 2>/dev/null; then wait "$program" 2>/dev/null || :; fi
  rm -rf "$scratch"
  exit "$status"
}
trap gui_end EXIT
trap 'exit 1' HUP INT TERM

fail () {
  echo "FAILED: $*" >&2
  [ ! -f "$scratch/log" ] || sed -n '1,20p' "$scratch/log" >&2
  [ ! -f "$places" ] || grep '^text ' "$places" >&2 || :
  exit 1
}

# start [FILE…]: the window with these files.
start () {
  rm -f "$places"
  "$build/src/desktop/meterleaf-window" "$@" >"$scratch/log" 2>&1 &
  program=$!
  wait_for "${first_widget:-start-draw}"
}

# place NAME: the middle of that widget on the screen, "X Y"; fails when it is not shown.
place () {
  awk -v name="$1" '$1 == name { print int ($2 + $4 / 2), int ($3 + $5 / 2); found = 1; exit } END { exit !found }' "$places"
}

# Bounded waits; a slow machine only makes the test slower.
# How often a wait looks, 30 to 50 ms apart: under a sanitizer on a busy machine a verdict takes a minute. Nothing here asks how fast things are.
patience=${METERLEAF_TEST_PATIENCE:-3000}

wait_for () {
  for _ in $(seq "$patience"); do
    [ -f "$places" ] && place "$1" >/dev/null 2>&1 && return 0
    kill -0 "$program" 2>/dev/null || fail "the program ended while waiting for $1"
    sleep 0.05
  done
  fail "$1 is not shown"
}

wait_gone () {
  for _ in $(seq "$patience"); do
    place "$1" >/dev/null 2>&1 || return 0
    sleep 0.05
  done
  fail "$1 is still shown"
}

# wait_left_of NAME OTHER GAP: until what NAME holds ends that far before what OTHER holds begins.
wait_left_of () {
  for _ in $(seq "$patience"); do
    awk -v name="$1" -v other="$2" -v gap="$3" '$1 == name { end = $2 + $4 } $1 == other { begin = $2 }
      END { exit !(end && begin && end + gap <= begin) }' "$places" && return 0
    sleep 0.05
  done
  fail "$1 is not left of $2: $(grep -e "^$1 " -e "^$2 " "$places")"
}

# The text that a label or entry shows.
words () {
  awk -v name="$1" '$1 == "text" && $2 == name { sub (/^text [^ ]+ /, ""); print; exit }' "$places"
}

# wait_words NAME PATTERN: until the text of NAME matches (shell pattern).
wait_words () {
  for _ in $(seq "$patience"); do
    # shellcheck disable=SC2254
    case $(words "$1") in $2) return 0 ;; esac
    kill -0 "$program" 2>/dev/null || fail "the program ended while waiting for $1"
    sleep 0.05
  done
  fail "$1 says “$(words "$1")”, not “$2”"
}

beat () {
  sed -n 's/^beat //p' "$places"
}

# settle: until the window has done all that was sent to it and no better drawing is on its way. How long that takes is the machine's affair.
settle () {
  from=$(beat)
  for _ in $(seq "$patience"); do
    now=$(beat)
    if [ "$((${now:-0} - ${from:-0}))" -ge 2 ] && ! grep -q ' moving$' "$places"; then return 0; fi
    kill -0 "$program" 2>/dev/null || return 0
    sleep 0.03
  done
  fail 'the window is still busy'
}

# rest: longer than a double click takes, and all is done.
rest () {
  sleep 0.45
  settle
}

# what moves still is waited for: it is clicked where it is twice in a row
click () {
  wait_for "$1"
  before=
  for _ in $(seq "$patience"); do
    settle
    now=$(place "$1" || echo gone)
    [ "$now" = "$before" ] && break
    before=$now
  done
  # shellcheck disable=SC2086
  click_at $now "${2:-1}"
}

# click_at X Y [BUTTON]: before a tooltip comes up, which seems to swallow clicks.
click_at () {
  xdotool mousemove "$1" "$2"
  sleep 0.05
  xdotool click "${3:-1}"
  settle
}

# There is no window manager here: keys go to the window below the pointer, and a menu that reached over the window's edge may have led it out.
bare=$(xdotool getmouselocation | sed 's/.*window://')
keys_reach_window () {
  [ "$(xdotool getmouselocation | sed 's/.*window://')" = "$bare" ] || return 0
  # shellcheck disable=SC2046
  xdotool mousemove $(place status || place start-draw)
  settle
}

key () {
  keys_reach_window
  xdotool key --delay 30 "$@"
  settle
}

enter_text () {
  keys_reach_window
  xdotool type --delay 15 -- "$1"
  settle
}

# click_thing_until THING NAME PATTERN: clicks the thing until NAME says PATTERN: on a busy machine it may still have moved between look and click.
click_thing_until () {
  for _ in 1 2 3 4 5 6; do
    click "$1"
    for _ in $(seq 40); do
      # shellcheck disable=SC2254
      case $(words "$2") in $3) return 0 ;; esac
      sleep 0.05
    done
  done
  fail "$2 says “$(words "$2")”, not “$3”"
}

# click_for THING SHOWN: clicks the thing until the other one is shown. Seldom, on a busy machine, a button takes no note of a click.
click_for () {
  for _ in 1 2 3 4 5 6; do
    if place "$1" >/dev/null 2>&1; then click "$1"; fi
    for _ in $(seq 300); do
      ! place "$2" >/dev/null 2>&1 || return 0
      sleep 0.05
    done
  done
  fail "$2 is not shown by clicking $1"
}

# click_until_gone THING: clicks it until it is not shown any more.
click_until_gone () {
  for _ in 1 2 3 4 5 6; do
    if place "$1" >/dev/null 2>&1; then click "$1"; fi
    for _ in $(seq 300); do
      place "$1" >/dev/null 2>&1 || return 0
      sleep 0.05
    done
  done
  fail "$1 is still shown"
}

# wait_window TITLE: until a window of that title is there, and keys go to it.
wait_window () {
  for _ in $(seq "$patience"); do
    id=$(xdotool search --onlyvisible --name "$1" 2>/dev/null | tail -n 1)
    if [ -n "$id" ]; then
      rest
      return 0
    fi
    sleep 0.05
  done
  fail "no window “$1”"
}

# press_until_gone KEY TITLE: the key, again if need be, until no window of that title is left: a list of completions may take the first one.
press_until_gone () {
  for _ in 1 2 3 4 5 6; do
    key "$1"
    for _ in $(seq 60); do
      if ! xdotool search --onlyvisible --name "$2" >/dev/null 2>&1; then
        rest
        return 0
      fi
      sleep 0.05
    done
  done
  fail "the window “$2” stays"
}

# has FILE PATTERN: until the file has a line that matches.
has () {
  for _ in $(seq "$patience"); do
    ! grep -q -- "$2" "$1" || return 0
    sleep 0.05
  done
  cat "$1" >&2
  fail "no '$2' in $1"
}

wait_file () {
  for _ in $(seq "$patience"); do
    [ -s "$1" ] && return 0
    sleep 0.05
  done
  fail "$1 was not written"
}

# start_drawing COLUMNS ROWS: an empty page, drawn on with `add` in a grid of so many places.
start_drawing () {
  start
  click start-draw
  wait_for drawing
  columns=$1 rows=$2
  # shellcheck disable=SC2046
  set -- $(awk '$1 == "drawing" { print $2, $3, $4, $5 }' "$places")
  left=$1 top=$2 width=$3 height=$4
}

# add NAME TYPED COLUMN ROW [VALUE]: what is typed for the part; the program names it.
add () {
  x=$((left + width * (2 * $3 - 1) / (2 * columns))) y=$((top + height * (2 * $4 - 1) / (2 * rows)))
  xdotool mousemove "$x" "$y"
  sleep 0.05
  key a
  wait_for add-search
  enter_text "$2"
  key Return
  wait_gone add-search
  wait_words hint '*click where it goes*'
  click_at "$x" "$y" # once: the pointer rests where the list was opened
  wait_words status "$1, *"
  if [ -n "${5:-}" ]; then
    enter_text "$5"
    key Return
    wait_words status "$1, *$5*"
  fi
}

# focused: what the keys go to.
focused () {
  sed -n 's/^focus \([^ ]*\).*/\1/p' "$places" | tail -n 1
}

# press_to NAME KEY…: the keys in turn until NAME has the keyboard.
press_to () {
  wanted=$1
  shift
  for _ in $(seq 40); do
    [ "$(focused)" != "$wanted" ] || return 0
    key "$@"
  done
  fail "$* does not lead to $wanted but to $(focused)"
}

# walk_to NAME: by the arrow keys, from each place first the way that the thing lies most, and no way twice; else Tab, to the next part.
walk_to () {
  gone=
  for _ in $(seq 60); do
    at=$(focused)
    [ "$at" != "$1" ] || return 0
    # shellcheck disable=SC2046
    set -- "$1" $(place "$at") $(place "$1")
    across=$(($4 - $2)) down=$(($5 - $3))
    [ $across -gt 0 ] && sideways='Right Left' || sideways='Left Right'
    [ $down -gt 0 ] && upright='Down Up' || upright='Up Down'
    if [ ${across#-} -gt ${down#-} ]; then ways="${sideways% *} $upright ${sideways#* }"; else ways="${upright% *} $sideways ${upright#* }"; fi
    for way in $ways Tab; do
      case $gone in *" $at>$way "*) [ "$way" = Tab ] || continue ;; esac
      gone="$gone $at>$way "
      key "$way"
      break
    done
  done
  fail "the arrow keys do not lead to $1 but to $(focused)"
}
