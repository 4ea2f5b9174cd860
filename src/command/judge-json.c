/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "command/command.h"

#include <math.h>

static const char *const reads_words[] = { "volts", "amps", "ohms", "diode" };
static const char *const explains_words[] = { "healthy", "fault", "drawing", "misfit" };
static const char *const size_words[] = { NULL, "ohm", "factor", "volt" };

static const char *
net_name (const MlBoard *board, int net)
{
  return net >= 0 ? board->nets[net].name : NULL;
}

/* By the names of the file, as a program compares them with what `solve` gives; new string. */
static char *
place_name (const MlBoard *board, const MlProbe *probe)
{
  return probe->part >= 0 ? ml_probe_label (board, probe) : g_strdup (net_name (board, probe->net));
}

static void
add_texts (JsonBuilder *builder, const char *name, char *const *texts)
{
  ml_json_begin_list (builder, name);
  for (guint i = 0; texts != NULL && texts[i] != NULL; i++)
    json_builder_add_string_value (builder, texts[i]);
  json_builder_end_array (builder);
}

static void
add_counts (JsonBuilder *builder, const char *name, const guint *counts, guint n)
{
  ml_json_begin_list (builder, name);
  for (guint i = 0; i < n; i++)
    json_builder_add_int_value (builder, counts[i]);
  json_builder_end_array (builder);
}

static void
add_fault_pins (JsonBuilder *builder, const MlBoard *board, const MlFault *fault)
{
  ml_json_begin_list (builder, "pins");
  for (guint i = 0; fault->part >= 0 && i < fault->n_pins; i++)
    json_builder_add_string_value (builder, board->parts[fault->part].pins[fault->pins[i]].name);
  for (guint i = 0; i < fault->n_cut; i++)
    {
      const MlPart *part = &board->parts[fault->cut_parts[i]];
      g_autofree char *pin = g_strdup_printf ("%s.%s", part->name, part->pins[fault->cut_pins[i]].name);
      json_builder_add_string_value (builder, pin);
    }
  json_builder_end_array (builder);
}

static void
add_fault (JsonBuilder *builder, const MlBoard *board, const MlFault *fault)
{
  json_builder_begin_object (builder);
  ml_json_text (builder, "part", fault->part >= 0 ? board->parts[fault->part].name : NULL);
  add_fault_pins (builder, board, fault);
  ml_json_begin_list (builder, "nets");
  if (fault->net_a >= 0)
    json_builder_add_string_value (builder, net_name (board, fault->net_a));
  if (fault->net_b >= 0)
    json_builder_add_string_value (builder, net_name (board, fault->net_b));
  json_builder_end_array (builder);
  ml_json_text (builder, "fault", ml_fault_word (fault->kind));
  ml_json_number (builder, "size", fault->size);
  ml_json_number (builder, "size_low", fault->size_low);
  ml_json_number (builder, "size_high", fault->size_high);
  ml_json_text (builder, "size_in", isfinite (fault->size) ? size_words[fault->size_in] : NULL);
  if (fault->as != NULL)
    ml_json_text (builder, "as", fault->as);
  json_builder_end_object (builder);
}

static void
add_explanations (JsonBuilder *builder, const MlVerdict *verdict)
{
  ml_json_begin_list (builder, "explanations");
  for (guint i = 0; i < verdict->n_explanations; i++)
    {
      const MlExplanation *self = &verdict->explanations[i];

      json_builder_begin_object (builder);
      ml_json_count (builder, "id", self->id);
      ml_json_number (builder, "probability", self->probability);
      ml_json_text (builder, "kind", explains_words[self->explains]);
      add_counts (builder, "tied", self->tied, self->n_tied);
      ml_json_begin_list (builder, "faults");
      for (guint k = 0; k < self->n_faults; k++)
        add_fault (builder, verdict->job->board, &self->faults[k]);
      json_builder_end_array (builder);
      add_texts (builder, "reasons", self->reasons);
      add_counts (builder, "refusing", self->refusing, self->n_refusing);
      json_builder_end_object (builder);
    }
  json_builder_end_array (builder);
}

static void
add_parts (JsonBuilder *builder, const MlVerdict *verdict)
{
  const MlBoard *board = verdict->job->board;

  ml_json_begin_list (builder, "parts");
  for (guint i = 0; i < verdict->n_parts; i++)
    {
      const MlPartVerdict *self = &verdict->parts[i];

      json_builder_begin_object (builder);
      ml_json_text (builder, "part", board->parts[i].name);
      ml_json_text (builder, "verdict", ml_verdict_word (self->verdict));
      ml_json_number (builder, "probability", self->probability);
      json_builder_set_member_name (builder, "group");
      if (self->group > 0)
        json_builder_add_int_value (builder, self->group);
      else
        json_builder_add_null_value (builder);
      json_builder_end_object (builder);
    }
  json_builder_end_array (builder);
  ml_json_begin_list (builder, "links");
  for (guint i = 0; i < verdict->n_links; i++)
    {
      const MlLinkVerdict *self = &verdict->links[i];

      json_builder_begin_object (builder);
      ml_json_begin_list (builder, "nets");
      json_builder_add_string_value (builder, net_name (board, self->net_a));
      json_builder_add_string_value (builder, net_name (board, self->net_b));
      json_builder_end_array (builder);
      ml_json_text (builder, "verdict", ml_verdict_word (self->verdict));
      ml_json_number (builder, "probability", self->probability);
      json_builder_end_object (builder);
    }
  json_builder_end_array (builder);
}

/* Where the probes stand: the same members for a reading that was taken and for one to take. */
static void
add_place (JsonBuilder *builder, const MlBoard *board, int condition, const MlProbe *red, const MlProbe *black, int supply)
{
  g_autofree char *red_label = supply < 0 ? place_name (board, red) : NULL;
  g_autofree char *black_label = supply < 0 ? place_name (board, black) : NULL;

  ml_json_text (builder, "condition", board->conditions[condition].name);
  ml_json_text (builder, "red", red_label);
  ml_json_text (builder, "black", black_label);
  ml_json_text (builder, "supply", supply >= 0 ? board->conditions[condition].supplies[supply].name : NULL);
}

/* What goes with a slip: the value that would have fitted, the pin or the condition it seems to have been taken at. */
static void
add_slip (JsonBuilder *builder, const MlBoard *board, const MlReadingVerdict *reading)
{
  g_autofree char *at = reading->slip_at.net >= 0 ? place_name (board, &reading->slip_at) : NULL;

  ml_json_number (builder, "slip_fits", reading->fits);
  ml_json_text (builder, "slip_at", at);
  ml_json_text (builder, "slip_condition", reading->slip_condition >= 0 ? board->conditions[reading->slip_condition].name : NULL);
  ml_json_text (builder, "slip_text", reading->slip_text);
}

static void
add_readings (JsonBuilder *builder, const MlVerdict *verdict)
{
  const MlJob *job = verdict->job;

  ml_json_begin_list (builder, "readings");
  for (guint i = 0; i < verdict->n_readings; i++)
    {
      const MlReadingVerdict *self = &verdict->readings[i];
      const MlReading *reading = &job->readings[self->reading];
      const MlQuantity *measured = &reading->measured;

      json_builder_begin_object (builder);
      add_place (builder, job->board, reading->condition, &reading->red, &reading->black, reading->supply);
      ml_json_text (builder, "quantity", reads_words[reading->reads]);
      ml_json_number (builder, "measured", measured->over ? NAN : measured->value);
      ml_json_number (builder, "low", measured->range ? measured->low : NAN);
      ml_json_number (builder, "high", measured->range ? measured->high : NAN);
      ml_json_flag (builder, "over", measured->over);
      ml_json_number (builder, "healthy", self->healthy);
      ml_json_number (builder, "healthy_sigma", self->healthy_sigma);
      ml_json_number (builder, "explained", self->explained);
      ml_json_number (builder, "explained_sigma", self->explained_sigma);
      ml_json_flag (builder, "doubtful", self->doubtful);
      ml_json_text (builder, "slip", ml_slip_word (self->slip));
      if (self->slip != ML_SLIP_NONE)
        add_slip (builder, job->board, self);
      json_builder_end_object (builder);
    }
  json_builder_end_array (builder);
}

static void
add_next (JsonBuilder *builder, const MlVerdict *verdict)
{
  ml_json_begin_list (builder, "next");
  for (guint i = 0; i < verdict->n_next; i++)
    {
      const MlNextReading *self = &verdict->next[i];

      json_builder_begin_object (builder);
      add_place (builder, verdict->job->board, self->condition, &self->red, &self->black, self->supply);
      ml_json_text (builder, "quantity", reads_words[self->reads]);
      ml_json_text (builder, "step", self->step);
      ml_json_number (builder, "bits", self->bits);
      ml_json_number (builder, "effort", self->effort);
      ml_json_number (builder, "healthy", self->healthy);
      ml_json_begin_list (builder, "expect");
      for (guint k = 0; k < self->n_expect; k++)
        {
          json_builder_begin_object (builder);
          ml_json_count (builder, "explanation", self->expect[k].explanation);
          ml_json_number (builder, "value", self->expect[k].value);
          if (isinf (self->expect[k].value))
            ml_json_flag (builder, "over", TRUE);
          json_builder_end_object (builder);
        }
      json_builder_end_array (builder);
      json_builder_end_object (builder);
    }
  json_builder_end_array (builder);
}

/* `reading` counts as in `readings`. */
static void
add_compared (JsonBuilder *builder, const MlVerdict *verdict)
{
  ml_json_begin_list (builder, "compared");
  for (guint i = 0; i < verdict->n_compared; i++)
    {
      json_builder_begin_object (builder);
      ml_json_text (builder, "part", verdict->job->board->parts[verdict->compared[i].part].name);
      ml_json_number (builder, "apart", verdict->compared[i].apart);
      for (guint k = 0; k < verdict->n_readings; k++)
        if (verdict->readings[k].reading == verdict->compared[i].reading)
          ml_json_count (builder, "reading", k);
      json_builder_end_object (builder);
    }
  json_builder_end_array (builder);
}

void
ml_judge_json (JsonBuilder *builder, const MlVerdict *verdict)
{
  const MlJob *job = verdict->job;

  json_builder_begin_object (builder);
  ml_json_text (builder, "job", job->title);
  ml_json_text (builder, "unit", job->units[verdict->unit].name);
  ml_json_count (builder, "pass", verdict->pass);
  ml_json_text (builder, "sentence", verdict->sentence);
  ml_json_number (builder, "healthy_probability", verdict->healthy_probability);
  ml_json_number (builder, "misfit_probability", verdict->misfit_probability);
  ml_json_number (builder, "rest_probability", verdict->rest_probability);
  add_explanations (builder, verdict);
  add_parts (builder, verdict);
  add_readings (builder, verdict);
  ml_json_text (builder, "condition_slip", verdict->condition_slip);
  add_next (builder, verdict);
  ml_json_number (builder, "readings_left", verdict->readings_left);
  add_compared (builder, verdict);
  ml_json_begin_list (builder, "blind");
  for (guint i = 0; i < verdict->n_blind; i++)
    {
      json_builder_begin_object (builder);
      ml_json_text (builder, "part", job->board->parts[verdict->blind[i].part].name);
      ml_json_text (builder, "why", verdict->blind[i].why);
      json_builder_end_object (builder);
    }
  json_builder_end_array (builder);
  add_texts (builder, "cautions", verdict->cautions);
  json_builder_end_object (builder);
}
