#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# By hand, what a board of one's own needs beyond plain parts: a part found by the number printed on it, a list left with Escape, a chip with more
# pins than it comes with, a relay whose contact belongs to its coil, and pins joined in a chain as fast as one can click.
set -eu
. "$METERLEAF_SOURCE/tests/desktop/gui.sh"

start_drawing 5 3

# Escape leaves the list, also with something typed; nonsense is answered
key a
wait_for add-search
enter_text xyzzy
wait_for add-none
! place notice-box >/dev/null || fail "adding a part is answered with “$(words notice)”"
key Escape
wait_gone add-search
# what nobody knows may be a chip: Enter adds a block with that print; where a part is selected, "a" may have begun what is printed on it
key a
wait_for add-search
enter_text xt-77
wait_for add-chip
key Return
wait_words hint '*click where it goes*'
click_at "$((left + width / 2))" "$((top + height / 2))"
wait_words status 'U1, *xt-77*'
key a
wait_for add-search
enter_text tmega8
wait_for add-printed
key Tab Tab Return
wait_words line-title 'What is printed on U1*'
key Return
wait_words status 'U1, *atmega8*'
key ctrl+z
key ctrl+z
wait_gone part:U1
# the first click after a list or a menu that a key has closed counts, also where it lay
xdotool mousemove "$((left + width / 4))" "$((top + height / 4))"
key a
wait_for add-search
enter_text 1n4148
key Return
wait_gone add-search
rest
xdotool click 1
wait_words status 'D1, diode 1N4148*'
key Menu
wait_for menu:Remove
key Escape
wait_gone menu:Remove
rest
# shellcheck disable=SC2046
xdotool mousemove $(place part:D1) mousemove_relative 40 60
settle
xdotool click 1
wait_words status 'Nothing selected*'
key ctrl+z
wait_gone part:D1
add D1 1n4148 1 1
wait_words status 'D1, diode 1N4148*'
add U1 block 3 2
# two pins more than the four it comes with; the last one not, after all
click_for add-pin pin:U1.5
key plus
wait_for pin:U1.6
click pin:U1.6
key Escape
key Tab # away from the pin and back: selecting is not joining
click pin:U1.6
key Delete
wait_gone pin:U1.6
wait_for pin:U1.5
add K1 coil 5 1
add K2 contact 5 2
add R1 resistor 1 3
add R2 resistor 2 3
# chained: the pin that ends one wire begins the next, clicked twice in a row within a double click's time
rest
# shellcheck disable=SC2046
click_at $(place pin:D1.cathode)
# shellcheck disable=SC2046
xdotool mousemove $(place pin:R1.1)
settle
xdotool click --repeat 2 --delay 60 1
settle
click pin:R2.1
wait_gone hint
click_thing_until pin:D1.cathode status 'D1’s cathode, joined to [A-Z]*'
key Escape
click_thing_until pin:R2.1 status 'R2’s 1, joined to [A-Z]*'
key Escape
[ -z "${METERLEAF_TEST_STEPS:-}" ] || import -window root "$METERLEAF_TEST_STEPS-parts.png"
# the only coil there is works the contact; it can be told otherwise, by the coil's name alone
click_thing_until part:K2 status 'K2, relay contact, worked by K1'
enter_text K7
key Return
wait_words line-trouble "'K7' is no coil*"
key ctrl+a
enter_text k1
key Return
wait_words status 'K2, relay contact, worked by K1'
key ctrl+s
wait_window 'Save the board and its job'
# typed over the marked part of the name: its ending stands there already
enter_text "$scratch/own.leafboard"
rest
key Return
wait_file "$scratch/own.leafboard"
has "$scratch/own.leafboard" '^part D1 1N4148 '
has "$scratch/own.leafboard" '^part U1 block 1=- 2=- 3=- 4=- 5=-$'
has "$scratch/own.leafboard" '^part K2 contact .*by=K1'
