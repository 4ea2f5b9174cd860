/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Boards as they mostly lie on a bench: a third of the values unread, one chip nobody knows, two or three conditions. The readings are those of a board
 * whose parts lie within their tolerance, with the fault that each test names or none, rounded as a meter does; what the verdict has to say follows
 * from which fault that was. */
#include "support/exam.h"
#include "support/near.h"

#define judge ml_exam_judge_readings

static const char BRIDGE[]
  = "meterleaf 1\nboard \"Turnout motor bridge\"\nreference MINUS\npart D1 diode anode=IN cathode=VM family=schottky\n"
    "part R11 resistor 1=VM 2=V5 value=1k tolerance=5%\npart D2 zener anode=MINUS cathode=V5 voltage=4.7\n"
    "part Q1 pnp collector=MA base=PA emitter=VM\npart Q2 pnp collector=MB base=PB emitter=VM\n"
    "part Q3 npn collector=MA base=NA emitter=MINUS\npart Q4 npn collector=MB base=NB emitter=MINUS\n"
    "part R1 resistor 1=VM 2=PA value=10k tolerance=5%\npart R2 resistor 1=VM 2=PB value=10k tolerance=5%\n"
    "part R3 resistor 1=PA 2=XA value=1k tolerance=5%\npart R4 resistor 1=PB 2=XB\npart Q5 npn collector=XA base=BA emitter=NB\n"
    "part Q6 npn collector=XB base=BB emitter=NA\npart R5 resistor 1=FWD 2=BA value=2k2 tolerance=5%\n"
    "part R6 resistor 1=REV 2=BB value=2k2 tolerance=5%\npart R7 resistor 1=NA 2=MINUS value=4k7 tolerance=5%\n"
    "part R8 resistor 1=NB 2=MINUS\npart M1 coil 1=MA 2=MB show=motor\npart U1 block VDD=V5 VSS=MINUS F=FWD R=REV supply=VDD ground=VSS\n"
    "condition stop\n  supply plus=IN minus=MINUS voltage=12 limit=300m\ncondition fwd\n  supply plus=IN minus=MINUS voltage=12 limit=300m\n"
    "condition rev\n  supply plus=IN minus=MINUS voltage=12 limit=300m\n";
static const char BRIDGE_READ[]
  = "reading u stop red=IN volts=11.97\nreading u stop red=V5 volts=4.717\nreading u stop red=MA volts=0.0235\n"
    "reading u stop red=MB volts=0.0235\nreading u stop red=PA volts=11.67\nreading u stop red=PB volts=11.67\n"
    "reading u stop red=NA volts=0.0000\nreading u stop red=XA volts=11.67\nreading u stop red=XB volts=11.67\n"
    "reading u stop red=BB volts=0.0000\nreading u stop red=FWD volts=0.0000\nreading u stop red=REV volts=0.0000\n"
    "reading u stop supply=1 amps=0.0069 volts=11.99\nreading u fwd red=IN volts=11.97\nreading u fwd red=VM volts=11.53\n"
    "reading u fwd red=MA volts=11.49\nreading u fwd red=MB volts=0.0401\nreading u fwd red=PA volts=10.82\n"
    "reading u fwd red=PB volts=11.52\nreading u fwd red=NA volts=0.0000\nreading u fwd red=NB volts=0.710\n"
    "reading u fwd red=XA volts=0.752\nreading u fwd red=XB volts=11.52\nreading u fwd red=BA volts=1.370\n"
    "reading u fwd red=BB volts=0.0000\nreading u fwd red=REV volts=0.0000\nreading u fwd supply=1 amps=0.0886 volts=11.99\n"
    "reading u rev red=IN volts=11.97\nreading u rev red=VM volts=11.53\nreading u rev red=V5 volts=4.669\n"
    "reading u rev red=MA volts=0.0401\nreading u rev red=PA volts=11.52\nreading u rev red=NA volts=0.710\n"
    "reading u rev red=NB volts=0.0000\nreading u rev red=XA volts=11.52\nreading u rev red=XB volts=0.754\n"
    "reading u rev red=BA volts=0.0000\nreading u rev red=BB volts=1.370\nreading u rev red=FWD volts=0.0000\n"
    "reading u rev red=REV volts=4.508\nreading u rev supply=1 amps=0.0890 volts=11.99\n";

static void
assert_nobody_suspect (const MlVerdict *verdict)
{
  for (guint i = 0; i < verdict->n_parts; i++)
    if (verdict->parts[i].verdict == ML_VERDICT_SUSPECT)
      print_error ("%s: %s\n", verdict->job->board->parts[i].name, verdict->sentence);
  for (guint i = 0; i < verdict->n_parts; i++)
    assert_int_not_equal (verdict->parts[i].verdict, ML_VERDICT_SUSPECT);
}

/* At rest the motor floats on leakage between two halves that are off. Nothing that is read elsewhere hangs on that. */
static void
test_sound_bridge_with_a_floating_motor (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (BRIDGE, BRIDGE_READ);

  assert_nobody_suspect (verdict);
  assert_true (verdict->healthy_probability > 0.8);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_sound_bridge_with_a_floating_motor),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
