/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "command/command.h"

#include <math.h>
#include <stdio.h>

void
ml_json_number (JsonBuilder *builder, const char *name, double value)
{
  json_builder_set_member_name (builder, name);
  if (isfinite (value))
    json_builder_add_double_value (builder, value);
  else
    json_builder_add_null_value (builder);
}

void
ml_json_text (JsonBuilder *builder, const char *name, const char *value)
{
  json_builder_set_member_name (builder, name);
  if (value != NULL)
    json_builder_add_string_value (builder, value);
  else
    json_builder_add_null_value (builder);
}

void
ml_json_flag (JsonBuilder *builder, const char *name, gboolean value)
{
  json_builder_set_member_name (builder, name);
  json_builder_add_boolean_value (builder, value);
}

void
ml_json_count (JsonBuilder *builder, const char *name, gint64 value)
{
  json_builder_set_member_name (builder, name);
  json_builder_add_int_value (builder, value);
}

void
ml_json_begin_list (JsonBuilder *builder, const char *name)
{
  json_builder_set_member_name (builder, name);
  json_builder_begin_array (builder);
}

void
ml_json_print (JsonBuilder *builder)
{
  g_autoptr (JsonGenerator) generator = json_generator_new ();
  g_autoptr (JsonNode) root = json_builder_get_root (builder);
  g_autofree char *text = NULL;

  json_generator_set_root (generator, root);
  json_generator_set_pretty (generator, TRUE);
  text = json_generator_to_data (generator, NULL);
  /* not g_print: JSON is UTF-8 whatever the terminal's charset (RFC 8259, 8.1) */
  fputs (text, stdout);
  fputc ('\n', stdout);
}
