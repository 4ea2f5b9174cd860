/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "command/command.h"

#include <math.h>

typedef struct
{
  MlInput input;
  MlJudge *judge;
  MlFault *faults;
  guint n_faults;
} Run;

/* Pads to a width in characters: printf counts bytes. */
static void
print_name (const char *what, const char *name, int width)
{
  g_print ("  %s %s%*s", what, name, MAX (0, width - (int) g_utf8_strlen (name, -1)), "");
}

/* What no bench instrument shows and the solver does not settle either is printed as 0; JSON has it all. */
static double
shown (double value, MlUnit unit)
{
  const double least = unit == ML_UNIT_VOLT ? 1e-6 : unit == ML_UNIT_AMPERE ? 1e-10 : 1e-9;

  return fabs (value) < least ? 0 : value;
}

static void
print_quantity (double value, MlUnit unit, const char *ending)
{
  char text[48];

  if (isnan (value))
    g_print ("%12s%s", "floats", ending);
  else
    {
      ml_quantity_format (shown (value, unit), unit, 4, FALSE, text, sizeof text);
      /* printf pads by bytes; Ω and µ are one column but two bytes. */
      g_print ("%*s%s%s", MAX (0, 12 - (int) g_utf8_strlen (text, -1)), "", text, ending);
    }
}

/* What does not apply to a part, or is not simulated, stays blank. */
static void
print_or_blank (double value, MlUnit unit, const char *ending)
{
  if (isnan (value))
    g_print ("%12s%s", "", ending);
  else
    print_quantity (value, unit, ending);
}

static double
drop_of (const MlBoard *board, guint part, const MlOperatingPoint *point)
{
  const MlPart *self = &board->parts[part];

  if (self->n_pins != 2 || self->pins[0].net < 0 || self->pins[1].net < 0)
    return NAN;
  return point->net_v[self->pins[0].net] - point->net_v[self->pins[1].net];
}

static void
print_supplies (const MlCondition *condition, const MlOperatingPoint *point)
{
  for (guint i = 0; i < condition->n_supplies; i++)
    {
      print_name ("supply", condition->supplies[i].name, 9);
      print_quantity (point->supply_v[i], ML_UNIT_VOLT, "");
      print_quantity (point->supply_a[i], ML_UNIT_AMPERE, point->limiting[i] ? "   in its limit\n" : "\n");
    }
}

static void
print_nets (const MlBoard *board, const MlOperatingPoint *point)
{
  for (guint i = 0; i < board->n_nets; i++)
    {
      const MlNet *net = &board->nets[i];
      print_name ("net", net->name, 12);
      print_quantity (point->net_v[i], ML_UNIT_VOLT, net->generated ? "   at " : "");
      g_print ("%s%s\n", net->generated ? net->words : "", fabs (point->net_v[i]) > ML_TOUCH_LIMIT_V ? "   above 60 V: dangerous to touch" : "");
    }
}

static void
print_part (const MlBoard *board, guint part, const MlOperatingPoint *point)
{
  const MlPart *self = &board->parts[part];

  print_name ("part", self->name, 11);
  print_or_blank (drop_of (board, part, point), ML_UNIT_VOLT, "");
  print_or_blank (point->part_w[part], ML_UNIT_WATT, "  ");
  for (guint k = 0; k < self->n_pins; k++)
    {
      char text[48];

      if (isnan (point->pin_a[part][k]))
        continue;
      ml_quantity_format (shown (point->pin_a[part][k], ML_UNIT_AMPERE), ML_UNIT_AMPERE, 3, FALSE, text, sizeof text);
      g_print (" %s %s", self->pins[k].name, text);
    }
  g_print ("\n");
}

static gboolean
is_dead (const MlBoard *board, const MlOperatingPoint *point)
{
  for (guint i = 0; i < board->n_nets; i++)
    if (!isnan (point->net_v[i]) && shown (point->net_v[i], ML_UNIT_VOLT) != 0)
      return FALSE;
  return board->conditions[point->condition].n_supplies == 0;
}

/* What stands for a chip nobody knows is a guess, and what hangs on it with it. */
static void
print_blocks (const MlBoard *board)
{
  gboolean any = FALSE;

  for (guint i = 0; i < board->n_parts; i++)
    if (board->parts[i].kind->kind == ML_KIND_BLOCK && board->parts[i].n_pins > 1)
      {
        g_print ("%s %s", any ? "," : "  unknown inside:", board->parts[i].name);
        any = TRUE;
      }
  if (any)
    g_print ("; what flows there is a guess, and so is what hangs on it\n");
}

static void
print_point (const MlBoard *board, const MlOperatingPoint *point)
{
  const MlCondition *condition = &board->conditions[point->condition];

  g_print ("%s%s%s\n", condition->name, condition->label != NULL ? ": " : "", condition->label != NULL ? condition->label : "");
  if (point->other_state)
    g_print ("  more than one state is possible; prefer NET high|low in the board says which is meant\n");
  if (is_dead (board, point))
    {
      g_print ("  no supply: 0 V everywhere\n");
      return;
    }
  print_blocks (board);
  print_supplies (condition, point);
  print_nets (board, point);
  g_print ("  %-16s%12s%12s   into its pins\n", "", "across", "power");
  for (guint i = 0; i < board->n_parts; i++)
    print_part (board, i, point);
}

static void
add_part_json (JsonBuilder *builder, const MlBoard *board, guint part, const MlOperatingPoint *point)
{
  json_builder_begin_object (builder);
  ml_json_text (builder, "part", board->parts[part].name);
  ml_json_number (builder, "volts", drop_of (board, part, point));
  ml_json_number (builder, "watts", point->part_w[part]);
  json_builder_set_member_name (builder, "pins");
  json_builder_begin_object (builder);
  for (guint k = 0; k < board->parts[part].n_pins; k++)
    ml_json_number (builder, board->parts[part].pins[k].name, point->pin_a[part][k]);
  json_builder_end_object (builder);
  json_builder_end_object (builder);
}

static void
add_point_json (JsonBuilder *builder, const MlBoard *board, const MlOperatingPoint *point)
{
  const MlCondition *condition = &board->conditions[point->condition];

  json_builder_begin_object (builder);
  ml_json_text (builder, "condition", condition->name);
  json_builder_set_member_name (builder, "nets");
  json_builder_begin_object (builder);
  for (guint i = 0; point->solved && i < board->n_nets; i++)
    ml_json_number (builder, board->nets[i].name, point->net_v[i]);
  json_builder_end_object (builder);
  ml_json_begin_list (builder, "supplies");
  for (guint i = 0; point->solved && i < condition->n_supplies; i++)
    {
      json_builder_begin_object (builder);
      ml_json_text (builder, "supply", condition->supplies[i].name);
      ml_json_number (builder, "volts", point->supply_v[i]);
      ml_json_number (builder, "amps", point->supply_a[i]);
      ml_json_flag (builder, "limiting", point->limiting[i]);
      json_builder_end_object (builder);
    }
  json_builder_end_array (builder);
  ml_json_begin_list (builder, "parts");
  for (guint i = 0; point->solved && i < board->n_parts; i++)
    add_part_json (builder, board, i, point);
  json_builder_end_array (builder);
  ml_json_flag (builder, "other_state", point->other_state);
  ml_json_text (builder, "error", point->error);
  json_builder_end_object (builder);
}

static MlExit
solve_conditions (const Run *run, int only, JsonBuilder *builder)
{
  MlExit status = ML_EXIT_DONE;

  for (guint i = 0; i < run->input.board->n_conditions; i++)
    {
      g_autoptr (MlOperatingPoint) point = NULL;

      if (only >= 0 && (guint) only != i)
        continue;
      point = ml_judge_solve (run->judge, i, run->faults, run->n_faults, NULL);
      if (!point->solved)
        {
          status = ML_EXIT_FAILED;
          ml_command_say ("condition %s: %s", run->input.board->conditions[i].name, point->error);
        }
      if (builder != NULL)
        add_point_json (builder, run->input.board, point);
      else if (point->solved)
        print_point (run->input.board, point);
    }
  return status;
}

/* A fault that such a part cannot have is the person's slip, no failed computation. */
static MlExit
check_faults (const Run *run, char **supposed)
{
  for (guint i = 0; i < run->n_faults; i++)
    {
      g_autoptr (GError) error = NULL;

      if (!ml_judge_check_fault (run->judge, 0, &run->faults[i], &error))
        {
          ml_command_say ("--suppose \"%s\": %s", supposed[i], error->message);
          return ML_EXIT_INPUT;
        }
    }
  return ML_EXIT_DONE;
}

static MlExit
parse_faults (Run *run, char **supposed)
{
  run->faults = g_new0 (MlFault, supposed != NULL ? g_strv_length (supposed) : 0);
  for (guint i = 0; supposed != NULL && supposed[i] != NULL; i++)
    {
      g_autoptr (GError) error = NULL;

      if (!ml_fault_parse (run->input.board, supposed[i], &run->faults[i], &error))
        {
          ml_command_say ("--suppose \"%s\": %s", supposed[i], error->message);
          return ML_EXIT_INPUT;
        }
      run->n_faults++;
    }
  return ML_EXIT_DONE;
}

static void
run_clear (Run *run)
{
  for (guint i = 0; i < run->n_faults; i++)
    ml_fault_clear (&run->faults[i]);
  g_free (run->faults);
  g_clear_pointer (&run->judge, ml_judge_free);
  ml_input_clear (&run->input);
}

static MlExit
run_solve (Run *run, const char *path, const char *condition, char **supposed, gboolean json)
{
  g_autoptr (JsonBuilder) builder = json ? json_builder_new () : NULL;
  MlExit status = ml_input_load (&run->input, path, FALSE);
  int only;

  if (status == ML_EXIT_DONE)
    status = parse_faults (run, supposed);
  if (status != ML_EXIT_DONE)
    return status;
  if (run->input.board->n_conditions == 0)
    {
      ml_command_say ("%s has no condition: write `condition NAME` and indented below it `supply plus=NET minus=NET voltage=V`", path);
      return ML_EXIT_INPUT;
    }
  only = ml_input_condition (&run->input, condition, -1);
  if (condition != NULL && only < 0)
    return ML_EXIT_INPUT;
  run->judge = ml_judge_new (run->input.board);
  status = check_faults (run, supposed);
  if (status != ML_EXIT_DONE)
    return status;
  if (json)
    {
      json_builder_begin_object (builder);
      ml_json_begin_list (builder, "conditions");
    }
  status = solve_conditions (run, only, builder);
  if (json)
    {
      json_builder_end_array (builder);
      json_builder_end_object (builder);
      ml_json_print (builder);
    }
  return status;
}

MlExit
ml_command_solve (int argc, char **argv)
{
  g_autofree char *condition = NULL;
  g_auto (GStrv) supposed = NULL;
  gboolean json = FALSE;
  const GOptionEntry entries[] = {
    { "condition", 0, 0, G_OPTION_ARG_STRING, &condition, "only this condition", "NAME" },
    { "suppose", 0, 0, G_OPTION_ARG_STRING_ARRAY, &supposed, "as if this were wrong: \"R4 high size=3\"; may be given again", "\"PART FAULT …\"" },
    { "json", 0, 0, G_OPTION_ARG_NONE, &json, "as JSON, in SI units", NULL },
    G_OPTION_ENTRY_NULL
  };
  Run run = { 0 };
  MlExit status;

  if (!ml_command_parse ("solve", &argc, &argv, entries, 1, 1))
    return ML_EXIT_USAGE;
  status = run_solve (&run, argv[1], condition, supposed, json);
  run_clear (&run);
  return status;
}
