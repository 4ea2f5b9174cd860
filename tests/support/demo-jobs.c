/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/demo-jobs.h"

#include "support/truth-case.h"

#include <math.h>
#include <string.h>

const MlDemo ML_DEMOS[ML_N_DEMOS] = { { "vent-controller", "Q1" }, { "signal-board", "R3" }, { "dust-switch", "C2" } };

/* What each unit really has. */
static const struct
{
  guint demo;
  const char *unit;
  guint64 seed;
  const char *part;
  MlFaultKind fault;
  const char *pin_a, *pin_b;
  double size;
} UNITS[] = {
  { 0, "bay7", 701, "Q1", ML_FAULT_JOINT, "emitter", NULL, 1200 },
  { 0, "spare", 702, NULL, 0, NULL, NULL, 0 },
  { 1, "east", 703, "R3", ML_FAULT_HIGH, "1", NULL, 3.3 },
  { 2, "joinery", 704, "C2", ML_FAULT_LEAK, "plus", "minus", 33 },
};

static void
set_fault (MlTruth *truth, const MlBoard *board, guint row)
{
  MlFault fault = { .part = ml_board_find_part (board, UNITS[row].part), .kind = UNITS[row].fault, .net_a = -1, .net_b = -1,
                    .n_pins = UNITS[row].pin_b ? 2 : 1, .size = UNITS[row].size };
  const MlPart *part = &board->parts[fault.part];
  fault.pins[0] = ml_part_find_pin (part, UNITS[row].pin_a);
  fault.pins[1] = UNITS[row].pin_b ? ml_part_find_pin (part, UNITS[row].pin_b) : 0;
  ml_truth_set_faults (truth, &fault, 1);
}

/* The vent controller's chip: drives the relay when asked, while its supply is above 3.6 V. */
static void
set_chip (MlTruth *truth, const MlBoard *board)
{
  int chip = ml_board_find_part (board, "U1");
  for (guint k = 0; k < board->n_conditions; k++)
    {
      gboolean asked = !strcmp (board->conditions[k].name, "asked");
      MlTruthBlock block = { .load_ohm = 1100, .drive_ohm = 60, .needs_v = 3.6,
                             .pins = { 0, 0, ML_TRUTH_PIN_INPUT, asked ? ML_TRUTH_PIN_HIGH : ML_TRUTH_PIN_LOW } };
      ml_truth_set_block (truth, chip, k, &block);
    }
}

MlTruth *
ml_demo_truth (guint demo, MlBoard *board, const char *unit)
{
  for (guint i = 0; i < G_N_ELEMENTS (UNITS); i++)
    {
      if (UNITS[i].demo != demo || strcmp (UNITS[i].unit, unit))
        continue;
      MlTruth *truth = ml_truth_new (board, board, ML_TRUTH_UNIT, UNITS[i].seed, NULL);
      if (demo == 0)
        set_chip (truth, board);
      if (UNITS[i].part)
        set_fault (truth, board, i);
      return truth;
    }
  return NULL;
}

/* ---- reading statements, as far as the demo jobs use them ---- */

static MlProbe
probe_of (const MlBoard *board, const char *words)
{
  MlProbe probe = { -1, -1, -1, g_str_has_suffix (words, "/lead") };
  g_autofree char *place = g_strndup (words, strcspn (words, "/"));
  char *dot = strchr (place, '.');
  probe.net = dot ? -1 : ml_board_find_net (board, place);
  if (!dot)
    return probe;
  *dot = '\0';
  probe.part = ml_board_find_part (board, place);
  probe.pin = ml_part_find_pin (&board->parts[probe.part], dot + 1);
  return probe;
}

/* across=R4: red on the first pin; across=Q2.base-emitter: the pair named. */
static void
across (const MlBoard *board, const char *words, MlTruthPlace *place)
{
  g_auto (GStrv) halves = g_strsplit_set (words, ".-", 3);
  int part = ml_board_find_part (board, halves[0]);
  gboolean named = halves[1] && halves[2];
  const MlPart *p = &board->parts[part];
  place->red = (MlProbe) { -1, part, named ? ml_part_find_pin (p, halves[1]) : ml_truth_pin (p, 0), FALSE };
  place->black = (MlProbe) { -1, part, named ? ml_part_find_pin (p, halves[2]) : ml_truth_pin (p, 1), FALSE };
}

static void
take_word (const MlBoard *board, const char *word, MlTruthPlace *place)
{
  const char *value = strchr (word, '=');
  if (!value)
    return;
  value++;
  if (g_str_has_prefix (word, "red="))
    place->red = probe_of (board, value);
  else if (g_str_has_prefix (word, "black="))
    place->black = probe_of (board, value);
  else if (g_str_has_prefix (word, "across="))
    across (board, value, place);
  else if (g_str_has_prefix (word, "supply="))
    {
      place->reads = ML_READS_AMPS;
      place->supply = 0;
    }
}

/* "reading UNIT CONDITION … volts=0" with the value that the truth program's meter shows. */
static char *
fill_line (guint demo, MlBoard *board, const char *line)
{
  g_auto (GStrv) words = g_strsplit (line, " ", -1);
  MlTruthPlace place = { ml_board_find_condition (board, words[2]), ML_READS_VOLTS, { -1, -1, -1, FALSE }, { board->reference, -1, -1, FALSE }, -1 };
  MlMeter figures = ml_truth_usual_meter ();
  MlTruthMeter meter = ml_truth_meter (&figures, g_str_hash (words[1]));
  MlTruth *truth = ml_demo_truth (demo, board, words[1]);
  for (guint i = 3; words[i]; i++)
    take_word (board, words[i], &place);
  g_autofree char *shown = ml_truth_meter_show (&meter, place.reads, ml_truth_read (truth, &place, figures.input_ohm));
  ml_truth_free (truth);
  return g_strdup_printf ("%.*s=%s", (int) (strrchr (line, '=') - line), line, shown);
}

char *
ml_demo_fill (guint demo, MlBoard *board, const char *job_text)
{
  g_auto (GStrv) lines = g_strsplit (job_text, "\n", -1);
  for (guint i = 0; lines[i]; i++)
    if (g_str_has_prefix (lines[i], "reading "))
      {
        char *filled = fill_line (demo, board, lines[i]);
        g_free (lines[i]);
        lines[i] = filled;
      }
  return g_strjoinv ("\n", lines);
}
