/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is probably not meant on a board that reads without errors. */
#include "board/board.h"
#include "board/parameters.h"

#include <math.h>

typedef struct
{
  const MlBoard *board;
  MlDiagnostics *diagnostics;
  guint *n_pins;      /* of each net */
  gboolean *led_out;  /* of each net: a supply, a load or a connection of some condition is on it */
  int *only_part;     /* of each net: the last part on it */
  int *group;         /* nets joined by links and fuses have one number */
  gboolean *set;      /* of each part: some condition sets it */
} Check;

#define NOTE(check, line, ...) say ((check), (line), ML_SEVERITY_NOTE, __VA_ARGS__)
#define WARN(check, line, ...) say ((check), (line), ML_SEVERITY_WARNING, __VA_ARGS__)

static void G_GNUC_PRINTF (4, 5)
say (const Check *check, guint line, MlSeverity severity, const char *format, ...)
{
  va_list arguments;
  g_autofree char *message = NULL;

  va_start (arguments, format);
  message = g_strdup_vprintf (format, arguments);
  va_end (arguments);
  ml_diagnostics_add (check->diagnostics, ml_text_name (check->board->text), line, 0, severity, "%s", message);
}

/* ---- parts ---- */

static guint
n_joined_pins (const Check *check, const MlPart *part)
{
  guint n = 0;

  for (guint i = 0; i < part->n_pins; i++)
    n += part->pins[i].net >= 0;
  return n;
}

static void
check_part (const Check *check, const MlPart *part)
{
  gboolean any_pins = part->kind->any_pins;

  if (part->n_pins > 0 && n_joined_pins (check, part) == 0)
    WARN (check, part->line, "%s is joined to nothing", part->name);
  else if (!any_pins && part->n_pins == 2 && part->pins[0].net >= 0 && part->pins[0].net == part->pins[1].net)
    WARN (check, part->line, "both pins of %s are on net %s: it does nothing there", part->name, check->board->nets[part->pins[0].net].name);
  else if (!any_pins && part->n_pins == 2 && n_joined_pins (check, part) == 1)
    WARN (check, part->line, "one pin of %s is joined to nothing", part->name);
  if (part->kind->kind == ML_KIND_BLOCK && part->n_pins > 1 && (part->supply_pin < 0 || part->ground_pin < 0))
    NOTE (check, part->line, "which pin of %s is its %s is not known: add %s=PIN if it has one", part->name,
          part->supply_pin < 0 ? "supply" : "ground", part->supply_pin < 0 ? "supply" : "ground");
}

/* on=OHM counts only with the gate voltage that it was given for, and where that switches the part on. */
static void
check_on (const Check *check, const MlPart *part)
{
  const MlAttribute *on = ml_part_attribute (part, ML_KEY_ON);
  MlParameter threshold;

  if (on == NULL || !ml_part_parameter (part, "threshold", &threshold))
    return;
  if (isnan (on->at.value))
    WARN (check, part->line, "on= of %s is left out: say at which gate voltage, as in on=50m@10", part->name);
  else if (fabs (on->at.value) <= threshold.centre)
    WARN (check, part->line, "on= of %s is left out: its gate voltage is not above the threshold, so the part is not on", part->name);
}

static void
check_contact (const Check *check, int index)
{
  const MlPart *part = &check->board->parts[index];

  if (part->kind->kind == ML_KIND_CONTACT && part->by < 0 && !check->set[index])
    NOTE (check, part->line, "contact %s follows no coil (by=) and is set in no condition: it stays at rest", part->name);
}

/* ---- nets ---- */

static void
mark_led_out (const Check *check, const MlCondition *condition)
{
  for (guint i = 0; i < condition->n_supplies; i++)
    check->led_out[condition->supplies[i].plus] = check->led_out[condition->supplies[i].minus] = TRUE;
  for (guint i = 0; i < condition->n_loads; i++)
    check->led_out[condition->loads[i].plus] = check->led_out[condition->loads[i].minus] = TRUE;
  for (guint i = 0; i < condition->n_connects; i++)
    check->led_out[condition->connects[i].net_a] = check->led_out[condition->connects[i].net_b] = TRUE;
}

static const MlPin *
pin_on (const MlPart *part, int net)
{
  const MlPin *pin = part->pins;

  while (pin->net != net)
    pin++;
  return pin;
}

static void
check_net (const Check *check, int index)
{
  const MlNet *net = &check->board->nets[index];
  const MlPin *pin;
  const MlPart *part;

  if (check->n_pins[index] > 1 || check->led_out[index])
    return;
  if (check->n_pins[index] == 0)
    {
      if (index != check->board->reference) /* the reader said so already */
        WARN (check, net->line, "no pin is on net %s", net->name);
      return;
    }
  part = &check->board->parts[check->only_part[index]];
  pin = pin_on (part, index);
  if (!part->kind->any_pins)
    NOTE (check, pin->line, "net %s ends at %s.%s: nothing else is on it", net->name, part->name, pin->name);
}

/* ---- continuity ---- */

static int
find_group (int *group, int net)
{
  while (group[net] != net)
    net = group[net] = group[group[net]];
  return net;
}

/* A beeper also sounds through links and fuses. */
static void
join_groups (Check *check)
{
  for (guint i = 0; i < check->board->n_nets; i++)
    check->group[i] = (int) i;
  for (guint i = 0; i < check->board->n_parts; i++)
    {
      const MlPart *part = &check->board->parts[i];
      gboolean conducts = part->kind->kind == ML_KIND_LINK || part->kind->kind == ML_KIND_FUSE;

      if (conducts && part->pins[0].net >= 0 && part->pins[1].net >= 0)
        check->group[find_group (check->group, part->pins[0].net)] = find_group (check->group, part->pins[1].net);
    }
}

static void
check_beep (const Check *check, const MlBeep *beep)
{
  const MlPart *a = &check->board->parts[beep->part_a], *b = &check->board->parts[beep->part_b];
  int net_a = a->pins[beep->pin_a].net, net_b = b->pins[beep->pin_b].net;
  gboolean same = net_a >= 0 && net_a == net_b;
  gboolean sounds = same || (net_a >= 0 && net_b >= 0 && find_group (check->group, net_a) == find_group (check->group, net_b));

  if (beep->joined && !sounds)
    WARN (check, beep->line, "%s.%s and %s.%s beeped, but they are drawn on different nets", a->name, a->pins[beep->pin_a].name, b->name,
          b->pins[beep->pin_b].name);
  else if (!beep->joined && same)
    WARN (check, beep->line, "%s.%s and %s.%s did not beep, but both are drawn on net %s", a->name, a->pins[beep->pin_a].name, b->name,
          b->pins[beep->pin_b].name, check->board->nets[net_a].name);
}

/* ---- conditions ---- */

/* Two supplies on the same two nets: side by side the higher one feeds the other, crossed they are in series into a short. */
static void
check_supply_pair (const Check *check, const MlSupply *first, const MlSupply *second)
{
  const char *plus = check->board->nets[second->plus].name, *minus = check->board->nets[second->minus].name;

  if (first->plus == second->plus && first->minus == second->minus)
    WARN (check, second->line, "supplies %s and %s are both on %s and %s: one of them feeds the other, and neither shows what the board draws", first->name,
          second->name, plus, minus);
  else if (first->plus == second->minus && first->minus == second->plus)
    WARN (check, second->line, "supplies %s and %s are on %s and %s the other way round: each drives its current through the other", first->name,
          second->name, minus, plus);
}

static void
check_condition (const Check *check, const MlCondition *condition)
{
  for (guint i = 0; i < condition->n_supplies; i++)
    {
      const MlSupply *supply = &condition->supplies[i];
      char volts[64];

      if (!supply->limit_written)
        NOTE (check, supply->line, "a supply without a limit gives up to %g A: write limit= as it is set on the bench", supply->limit_a);
      ml_quantity_format (supply->voltage_v, ML_UNIT_VOLT, 4, false, volts, sizeof volts); /* a point in every locale */
      if (supply->voltage_v > ML_TOUCH_LIMIT_V)
        WARN (check, supply->line, "%s is above %g V d.c.: dangerous to touch", volts, ML_TOUCH_LIMIT_V);
      for (guint k = 0; k < i; k++)
        check_supply_pair (check, &condition->supplies[k], supply);
    }
  for (guint i = 0; i < condition->n_lifts; i++)
    if (check->board->parts[condition->lifts[i].part].pins[condition->lifts[i].pin].net < 0)
      WARN (check, condition->lifts[i].line, "this pin is joined to nothing: lifting it changes nothing");
}

static void
check_board (const Check *check)
{
  const MlBoard *board = check->board;

  if (board->n_parts == 0)
    WARN (check, 0, "the board has no parts");
  else if (board->reference < 0)
    WARN (check, 0, "no net is the reference, the one under the black probe: add a line such as `reference %s`",
          board->n_nets > 0 ? board->nets[0].name : "MINUS");
  if (board->n_conditions == 0)
    NOTE (check, 0, "the board has no condition: nothing can be computed or measured before there is one");
}

void
ml_board_check (const MlBoard *board, MlDiagnostics *diagnostics)
{
  g_autofree guint *n_pins = g_new0 (guint, board->n_nets + 1);
  g_autofree int *group = g_new0 (int, board->n_nets + 1);
  g_autofree gboolean *led_out = g_new0 (gboolean, board->n_nets + 1);
  g_autofree int *only_part = g_new0 (int, board->n_nets + 1);
  g_autofree gboolean *set = g_new0 (gboolean, board->n_parts + 1);
  Check check = { board, diagnostics, n_pins, led_out, only_part, group, set };

  join_groups (&check);
  for (guint i = 0; i < board->n_parts; i++)
    for (guint k = 0; k < board->parts[i].n_pins; k++)
      if (board->parts[i].pins[k].net >= 0)
        {
          n_pins[board->parts[i].pins[k].net]++;
          only_part[board->parts[i].pins[k].net] = (int) i;
        }
  for (guint i = 0; i < board->n_conditions; i++)
    {
      mark_led_out (&check, &board->conditions[i]);
      for (guint k = 0; k < board->conditions[i].n_settings; k++)
        set[board->conditions[i].settings[k].part] = TRUE;
    }
  check_board (&check);
  for (guint i = 0; i < board->n_parts; i++)
    {
      check_part (&check, &board->parts[i]);
      check_on (&check, &board->parts[i]);
      check_contact (&check, (int) i);
    }
  for (guint i = 0; i < board->n_nets; i++)
    check_net (&check, (int) i);
  for (guint i = 0; i < board->n_beeps; i++)
    check_beep (&check, &board->beeps[i]);
  for (guint i = 0; i < board->n_conditions; i++)
    check_condition (&check, &board->conditions[i]);
  ml_diagnostics_sort (diagnostics);
}
