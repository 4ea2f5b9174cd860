/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/entry.h"

#include <math.h>

#include "desktop/entry-scale.h"
#include "desktop/findings-text.h"
#include "desktop/reading-text.h"
#include "desktop/said.h"
#include "drawing/paint.h"

#define MOST_EXPECTED 6 /* fine, and five explanations */
#define WIDE 0.2 /* give or take a fifth */
#define WIDE_V 0.05
#define SURE 0.9 /* so probable an explanation has its readings foretold */
#define SCALE_HEIGHT 34
#define TALL_LINES 17  /* of text: what it takes with one half above the other */
#define WIDE_CHARS 50  /* and with both side by side */
#define LINE_CHARS 34
#define NARROW_CHARS 20
#define DIGITS_SCALE 2.0

struct _MlEntry
{
  GtkBox parent_instance;

  MlDocument *document; /* owned */
  gulong changed_handler;

  /* the place */
  MlProbe red, black;
  MlReads reads;

  /* what is expected there, fine first */
  MlExpectation expected[MOST_EXPECTED];
  char *labels[MOST_EXPECTED];
  guint n_expected;
  int paper;
  int condition; /* for which it asks for volts or ohms */

  /* template */
  GtkWidget *halves[2];
  GtkWidget *leads_row, *leads[2]; /* red, black: on the part's own metal */
  GtkWidget *red_name, *black_name, *swap, *kinds, *volts, *ohms, *diode, *text, *understood, *scale, *fine, *question;
};

G_DEFINE_FINAL_TYPE (MlEntry, ml_entry, GTK_TYPE_BOX)

enum { RECORDED, LEFT, SWAPPED, N_SIGNALS };
static guint signals[N_SIGNALS];

/* ---- the place ---- */

static gboolean
is_cold (MlEntry *self)
{
  int condition = ml_document_condition (self->document);
  const MlBoard *board = ml_document_board (self->document);
  return condition < 0 || ml_condition_is_cold (&board->conditions[condition]);
}

static void
show_names (MlEntry *self)
{
  MlBoard *board = ml_document_board (self->document);
  g_autofree char *red = ml_probe_label (board, &self->red), *black = ml_probe_label (board, &self->black);
  g_autofree char *red_text = g_strdup_printf ("red %s", red), *black_text = g_strdup_printf ("black %s", black);
  gtk_label_set_text (GTK_LABEL (self->red_name), red_text);
  gtk_label_set_text (GTK_LABEL (self->black_name), black_text);
}

/* ---- what is expected ---- */

static void
clear_expected (MlEntry *self)
{
  for (guint i = 0; i < self->n_expected; i++)
    g_clear_pointer (&self->labels[i], g_free);
  self->n_expected = 0;
}

/* foretold: what the findings say of it, which know more than the board as drawn (other readings, a good unit); NAN: nothing. */
static void
expect (MlEntry *self, MlJudge *judge, const char *label, const MlFault *faults, guint n_faults, double foretold)
{
  const MlMeter *meter = &ml_document_job (self->document)->meters[0];
  double sigma = NAN;
  const MlVerdict *verdict = ml_document_verdict (self->document);
  double value = ml_judge_expect (judge, ml_document_condition (self->document), faults, n_faults, verdict ? verdict->found : NULL, self->reads,
                                  &self->red, &self->black, -1, meter, &sigma);
  if (isfinite (foretold))
    value = foretold;
  if (!isfinite (value) || self->n_expected == MOST_EXPECTED)
    return;
  self->labels[self->n_expected] = g_strdup (label);
  self->expected[self->n_expected] = (MlExpectation){ self->labels[self->n_expected], value, sigma };
  self->n_expected++;
}

static void
expect_explanations (MlEntry *self, MlJudge *judge, const MlNextReading *suggested, double sign)
{
  const MlVerdict *verdict = ml_document_verdict (self->document);
  for (guint i = 0; verdict && i < verdict->n_explanations && self->n_expected < MOST_EXPECTED; i++)
    {
      const MlExplanation *explanation = &verdict->explanations[i];
      if (explanation->n_faults > 0 && explanation->explains != ML_EXPLAINS_MISFIT)
        expect (self, judge, explanation->title, explanation->faults, explanation->n_faults,
                suggested ? sign * ml_findings_foretold (suggested, explanation->id) : NAN);
    }
}

/* Under what is as good as certain a place reads what the readings so far have it read, which is known better than from the part tolerances alone. */
static void
narrow_leader (MlEntry *self)
{
  const MlVerdict *verdict = ml_document_verdict (self->document);
  double sigma, value = ml_document_foretold (self->document, &self->red, &self->black, &sigma);
  if (!verdict || self->n_expected < 2 || self->reads != ML_READS_VOLTS || !isfinite (value) || verdict->explanations[0].n_faults == 0
      || verdict->explanations[0].probability < SURE)
    return;
  self->expected[1].value = value;
  self->expected[1].sigma = sigma;
}

/* What unknown chips and unread values leave so open that a bare number would be taken for more than it is. */
static gboolean
is_wide (const MlEntry *self, const MlExpectation *expectation)
{
  const double reach = 2.0 * expectation->sigma, least = self->reads == ML_READS_OHMS ? 0.0 : WIDE_V;
  return isfinite (reach) && reach > WIDE * fabs (expectation->value) && reach > least;
}

static void
show_fine (MlEntry *self)
{
  if (self->n_expected == 0)
    {
      gtk_label_set_text (GTK_LABEL (self->fine), "What is expected here is not known");
      return;
    }
  g_autofree char *value = ml_findings_value (self->expected[0].value, self->reads);
  g_autofree char *about = ml_findings_value (2.0 * self->expected[0].sigma, self->reads);
  g_autofree char *text = is_wide (self, &self->expected[0]) ? g_strdup_printf ("%s: %s, give or take %s", self->expected[0].label, value, about)
                               : g_strdup_printf ("%s: %s", self->expected[0].label, value);
  gtk_label_set_text (GTK_LABEL (self->fine), text);
}

static double
between (const MlOperatingPoint *point, const MlEntry *self)
{
  return point && point->solved && self->red.net >= 0 && self->black.net >= 0 ? point->net_v[self->red.net] - point->net_v[self->black.net] : NAN;
}

/* The judge starts from the board as drawn, unless the verdict tells it what it found; what the verdict has learnt of the chips nobody knows (from a good
 * unit, say) stands on the drawing and in the status line, so it has to stand here. */
static void
add_what_is_known (MlEntry *self)
{
  const MlVerdict *verdict = ml_document_verdict (self->document);
  int condition = ml_document_condition (self->document);
  double known = between (ml_document_point_of (self->document, condition), self);
  double shift = known - between (ml_document_point_as_drawn (self->document, condition), self);
  MlExpectation *fine = &self->expected[0];
  if (self->n_expected == 0 || self->reads != ML_READS_VOLTS || self->red.lead || self->black.lead)
    return;
  if (!verdict || !verdict->found)
    fine->value += isfinite (shift) ? shift : 0.0;
  else if (isfinite (known) && is_wide (self, fine) && fabs (known - fine->value) <= 3.0 * fine->sigma)
    fine->value = known; /* of all that it may be, the one that is drawn */
}

static void
compute_expected (MlEntry *self)
{
  MlJudge *judge = ml_document_judge (self->document);
  if (!judge || ml_document_condition (self->document) < 0)
    return; /* asked again when the points are there */
  double sign = 1.0;
  const MlNextReading *suggested = ml_findings_suggested (ml_document_verdict (self->document), ml_document_condition (self->document), self->reads,
                                                          &self->red, &self->black, &sign);
  double foretold = suggested ? sign * suggested->healthy : NAN;
  clear_expected (self);
  /* of other ohms than those suggested nobody knows yet what the readings say about them */
  expect (self, judge, self->reads == ML_READS_VOLTS || isfinite (foretold) ? "If all is fine" : "As drawn, if all is fine", NULL, 0, foretold);
  if (!isfinite (foretold) || (self->n_expected > 0 && is_wide (self, &self->expected[0]))) /* of what is hardly known the drawing's figure is as good as the next reading's */
    add_what_is_known (self);
  expect_explanations (self, judge, suggested, sign);
  narrow_leader (self);
  show_fine (self);
  gtk_widget_queue_draw (self->scale);
}

/* ---- what was typed ---- */

static gboolean
read_typed (MlEntry *self, MlReadingText *ret_reading, char **ret_trouble)
{
  return ml_reading_text_read (gtk_editable_get_text (GTK_EDITABLE (self->text)), self->reads, is_cold (self), ret_reading, ret_trouble);
}

static char *
question_for (MlEntry *self, double value)
{
  const MlMeter *meter = &ml_document_job (self->document)->meters[0];
  guint which = 0;
  double factor = 1.0;
  char other[48];
  g_autofree char *surprise = NULL;
  MlExpectation going_by = { .value = NAN };
  going_by.value = ml_document_foretold (self->document, &self->red, &self->black, &going_by.sigma);
  switch (ml_reading_fits (value, meter, self->expected, self->n_expected, self->reads != ML_READS_OHMS, &which, &factor))
    {
    case ML_FITS_HEALTHY:
    case ML_FITS_EXPLANATION:
      if (which == 0 && self->reads == ML_READS_VOLTS)
        surprise = ml_reading_surprise_words (value, meter, &going_by);
      if (surprise)
        return g_steal_pointer (&surprise);
      return ml_reading_fit_words (value, &self->expected[which], which == 0);
    case ML_FITS_SWAPPED:
      return g_strdup ("Red and black the other way round? With the sign changed it would fit");
    case ML_FITS_THOUSANDFOLD:
      ml_quantity_format (value * factor, ml_reading_unit (self->reads), 3, false, other, sizeof other);
      return g_strdup_printf ("Milli or not? %s would fit", other);
    case ML_FITS_NOTHING:
      return g_strdup ("Outside every explanation: right pin, sign and range? Enter records it all the same");
    case ML_FITS_UNKNOWN:
    default:
      return g_strdup ("");
    }
}

static void
show_typed (MlEntry *self)
{
  MlReadingText reading;
  g_autofree char *trouble = NULL, *question = NULL, *understood = NULL;
  gboolean empty = ml_entry_is_empty (self);
  if (!empty && read_typed (self, &reading, &trouble))
    {
      g_autofree char *value = ml_reading_text_understood (&reading);
      understood = g_strdup_printf ("understood as %s%s", value, reading.reads == ML_READS_DIODE ? ", diode test" : "");
      question = reading.quantity.over ? g_strdup ("") : question_for (self, reading.quantity.value);
      ml_reading_text_clear (&reading);
    }
  gtk_label_set_text (GTK_LABEL (self->understood), understood ? understood : empty ? "Type what the meter shows" : "");
  gtk_label_set_text (GTK_LABEL (self->question), trouble ? trouble : question ? question : "");
  gtk_widget_set_visible (self->question, trouble || (question && *question));
  gtk_widget_queue_draw (self->scale);
}

static void
choose_reads (MlEntry *self, MlReads reads)
{
  if (self->reads == reads)
    return;
  self->reads = reads;
  compute_expected (self);
  show_typed (self);
}

/* ---- the scale ---- */

static double
typed_value (MlEntry *self)
{
  MlReadingText reading;
  g_autofree char *trouble = NULL;
  if (ml_entry_is_empty (self) || !read_typed (self, &reading, &trouble))
    return NAN;
  double value = reading.quantity.value;
  ml_reading_text_clear (&reading);
  return value;
}

static void
draw_scale (GtkDrawingArea *area, cairo_t *cr, int width, int height, gpointer data)
{
  MlEntry *self = data;
  GdkRGBA ink;
  gtk_style_context_get_color (gtk_widget_get_style_context (GTK_WIDGET (area)), &ink);
  ml_entry_scale_draw (cr, width, height, self->expected, self->n_expected, typed_value (self), &ink, (MlPaper) self->paper);
}

/* ---- doing ---- */

gboolean
ml_entry_take (MlEntry *self)
{
  MlReadingText reading;
  g_autofree char *trouble = NULL;
  if (!read_typed (self, &reading, &trouble))
    {
      show_typed (self);
      return FALSE;
    }
  MlJob *job = ml_document_job (self->document);
  g_autoptr (GError) error = NULL;
  g_autoptr (MlText) text
    = ml_job_edit_add_reading (job, ml_document_unit (self->document), ml_document_pass (self->document),
                               ml_document_condition (self->document), reading.reads, &self->red, &self->black, reading.typed, &error);
  g_autofree char *value = ml_reading_text_understood (&reading), *red = ml_probe_label (ml_document_board (self->document), &self->red);
  g_autofree char *label = g_strdup_printf ("Reading %s: %s", red, value);
  ml_reading_text_clear (&reading);
  if (!text)
    {
      g_autofree char *said = ml_said (job->board, error->message);
      gtk_label_set_text (GTK_LABEL (self->question), said);
      gtk_widget_set_visible (self->question, TRUE);
      return FALSE;
    }
  gtk_editable_set_text (GTK_EDITABLE (self->text), "");
  ml_document_apply (self->document, NULL, text, label, NULL);
  g_signal_emit (self, signals[RECORDED], 0);
  return TRUE;
}

/* By [red, black] and whether the leg is lifted off its pad. */
static const char *const lead_labels[2][2] = { { "red (l)", "red, lifted" }, { "black (L)", "black, lifted" } };
static const char *const lead_names[2][2] = { { "Red on the part's own metal", "Red on the lifted leg" }, { "Black on the part's own metal", "Black on the lifted leg" } };

static void
show_leads (MlEntry *self)
{
  const MlProbe *ends[] = { &self->red, &self->black };
  gtk_widget_set_visible (self->leads_row, ends[0]->part >= 0 || ends[1]->part >= 0);
  for (guint i = 0; i < 2; i++)
    {
      gtk_widget_set_visible (self->leads[i], ends[i]->part >= 0);
      g_signal_handlers_block_matched (self->leads[i], G_SIGNAL_MATCH_DATA, 0, 0, NULL, NULL, self);
      gtk_check_button_set_label (GTK_CHECK_BUTTON (self->leads[i]), lead_labels[i][ends[i]->lead == ML_LEAD_LIFTED]);
      gtk_accessible_update_property (GTK_ACCESSIBLE (self->leads[i]), GTK_ACCESSIBLE_PROPERTY_LABEL, lead_names[i][ends[i]->lead == ML_LEAD_LIFTED], -1);
      gtk_check_button_set_active (GTK_CHECK_BUTTON (self->leads[i]), ends[i]->lead);
      g_signal_handlers_unblock_matched (self->leads[i], G_SIGNAL_MATCH_DATA, 0, 0, NULL, NULL, self);
    }
}

void
ml_entry_swap (MlEntry *self)
{
  MlProbe red = self->red;
  self->red = self->black;
  self->black = red;
  show_names (self);
  show_leads (self);
  compute_expected (self);
  show_typed (self);
  g_signal_emit (self, signals[SWAPPED], 0);
  gtk_widget_grab_focus (self->text);
  gtk_editable_set_position (GTK_EDITABLE (self->text), -1);
}

void
ml_entry_toggle_lead (MlEntry *self, gboolean red)
{
  MlProbe *end = red ? &self->red : &self->black;
  if (end->part < 0)
    return;
  end->lead = !end->lead;
  show_names (self);
  show_leads (self);
  compute_expected (self);
  show_typed (self);
  g_signal_emit (self, signals[SWAPPED], 0);
}

/* ---- callbacks ---- */

static void
lead_cb (GtkWidget *check, MlEntry *self)
{
  ml_entry_toggle_lead (self, check == self->leads[0]);
  gtk_widget_grab_focus (self->text);
  gtk_editable_set_position (GTK_EDITABLE (self->text), -1);
}

static void
activate_cb (GtkWidget *text, MlEntry *self)
{
  ml_entry_take (self);
}

static void
text_changed_cb (GtkWidget *text, MlEntry *self)
{
  show_typed (self);
}

static void
swap_cb (GtkWidget *button, MlEntry *self)
{
  ml_entry_swap (self);
}

static void
reads_cb (GtkWidget *button, MlEntry *self)
{
  if (!gtk_toggle_button_get_active (GTK_TOGGLE_BUTTON (button)))
    return;
  choose_reads (self, button == self->ohms ? ML_READS_OHMS : button == self->diode ? ML_READS_DIODE : ML_READS_VOLTS);
  gtk_widget_grab_focus (self->text);
  gtk_editable_set_position (GTK_EDITABLE (self->text), -1);
}

static void
show_kinds (MlEntry *self)
{
  gboolean cold = is_cold (self);
  self->reads = cold ? ML_READS_OHMS : ML_READS_VOLTS;
  gtk_toggle_button_set_active (GTK_TOGGLE_BUTTON (cold ? self->ohms : self->volts), TRUE);
  gtk_widget_set_visible (self->kinds, cold);
  self->condition = ml_document_condition (self->document);
}

static void
changed_cb (MlDocument *document, guint changed, MlEntry *self)
{
  if (gtk_widget_get_visible (GTK_WIDGET (self)) && self->condition != ml_document_condition (document))
    show_kinds (self); /* what was typed goes to the condition that is shown, which may have no volts */
  if (gtk_widget_get_visible (GTK_WIDGET (self)) && (changed & (ML_CHANGED_POINT | ML_CHANGED_VERDICT | ML_CHANGED_FORETOLD)))
    {
      compute_expected (self);
      show_typed (self);
    }
}

/* What the entry does not use must not reach the drawing's single keys. */
static gboolean
key_cb (GtkEventControllerKey *controller, guint keyval, guint keycode, GdkModifierType state, MlEntry *self)
{
  if (keyval == GDK_KEY_Escape)
    {
      g_signal_emit (self, signals[LEFT], 0);
      return TRUE;
    }
  return keyval != GDK_KEY_Tab && keyval != GDK_KEY_ISO_Left_Tab && !(state & (GDK_CONTROL_MASK | GDK_ALT_MASK));
}

/* The L of what meters show over range is a letter of the reading. A voltage of 0 that is read at the leg is left its small l. */
static gboolean
is_letter (MlEntry *self, guint keyval)
{
  const char *text = gtk_editable_get_text (GTK_EDITABLE (self->text));
  return ml_reading_text_begins_over (text) && (keyval == GDK_KEY_L || self->reads != ML_READS_VOLTS || !strchr (text, '0'));
}

/* "4r7" of ohms (IEC 60062 writes it R); no voltage has an r in it. */
static gboolean
is_decimal_mark (MlEntry *self, GdkModifierType state)
{
  return !(state & GDK_CONTROL_MASK) && self->reads == ML_READS_OHMS && *gtk_editable_get_text (GTK_EDITABLE (self->text));
}

/* Before the text sees it: Ctrl+R swaps, and so does a plain r where it is no part of a reading; l and L put the
 * red and the black probe on the part's own metal, but for the L of an "OL" or "0L". */
static gboolean
capture_key_cb (GtkEventControllerKey *controller, guint keyval, guint keycode, GdkModifierType state, MlEntry *self)
{
  if (state & (GDK_ALT_MASK | GDK_SUPER_MASK))
    return FALSE;
  if ((keyval == GDK_KEY_l || keyval == GDK_KEY_L) && !(state & GDK_CONTROL_MASK) && !is_letter (self, keyval))
    {
      ml_entry_toggle_lead (self, keyval == GDK_KEY_l);
      return TRUE;
    }
  if (keyval != GDK_KEY_r || is_decimal_mark (self, state))
    return FALSE;
  ml_entry_swap (self);
  return TRUE;
}

/* ---- building ---- */

static GtkWidget *
add_label (GtkWidget *box, const char *css_class)
{
  GtkWidget *label = gtk_label_new (NULL);
  gtk_label_set_xalign (GTK_LABEL (label), 0.0f);
  gtk_label_set_wrap (GTK_LABEL (label), TRUE);
  gtk_label_set_max_width_chars (GTK_LABEL (label), LINE_CHARS);
  if (css_class)
    gtk_widget_add_css_class (label, css_class);
  gtk_box_append (GTK_BOX (box), label);
  return label;
}

static GtkWidget *
add_button (MlEntry *self, GtkWidget *box, GtkWidget *button, const char *name)
{
  gtk_accessible_update_property (GTK_ACCESSIBLE (button), GTK_ACCESSIBLE_PROPERTY_LABEL, name, -1);
  gtk_widget_set_tooltip_text (button, name);
  gtk_box_append (GTK_BOX (box), button);
  return button;
}

/* Names stay in one line: they are read at a glance. */
static GtkWidget *
add_end (GtkWidget *row, const char *css_class)
{
  GtkWidget *label = add_label (row, css_class);
  gtk_label_set_wrap (GTK_LABEL (label), FALSE);
  gtk_label_set_max_width_chars (GTK_LABEL (label), 24);
  gtk_label_set_ellipsize (GTK_LABEL (label), PANGO_ELLIPSIZE_MIDDLE);
  return label;
}

/* What is typed, and what it means: one above the other, or side by side where there is little height. */
static void
build_halves (MlEntry *self)
{
  for (guint i = 0; i < G_N_ELEMENTS (self->halves); i++)
    {
      self->halves[i] = gtk_box_new (GTK_ORIENTATION_VERTICAL, 4);
      gtk_box_append (GTK_BOX (self), self->halves[i]);
    }
}

static void
build_ends (MlEntry *self)
{
  GtkWidget *row = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 8);
  gtk_box_append (GTK_BOX (self->halves[0]), row);
  self->red_name = add_end (row, "red-end");
  self->swap = add_button (self, row, gtk_button_new_with_label ("⇄"), "Swap red and black (r)");
  self->black_name = add_end (row, "black-end");
  g_signal_connect (self->swap, "clicked", G_CALLBACK (swap_cb), self);
}

static void
build_leads (MlEntry *self)
{
  static const char *const names[] = { "entry-red-lead", "entry-black-lead" };
  self->leads_row = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 8);
  gtk_box_append (GTK_BOX (self->halves[0]), self->leads_row);
  gtk_box_append (GTK_BOX (self->leads_row), gtk_label_new ("On the leg:"));
  for (guint i = 0; i < 2; i++)
    {
      self->leads[i] = gtk_check_button_new_with_label (lead_labels[i][0]);
      gtk_widget_set_name (self->leads[i], names[i]);
      gtk_widget_set_tooltip_text (self->leads[i], "On the part's own metal instead of the solder: across a dry joint the two differ");
      gtk_widget_set_focus_on_click (self->leads[i], FALSE);
      g_signal_connect (self->leads[i], "toggled", G_CALLBACK (lead_cb), self);
      gtk_box_append (GTK_BOX (self->leads_row), self->leads[i]);
    }
}

static GtkWidget *
add_kind (MlEntry *self, const char *label, const char *name)
{
  GtkWidget *button = add_button (self, self->kinds, gtk_toggle_button_new_with_label (label), name);
  if (self->volts)
    gtk_toggle_button_set_group (GTK_TOGGLE_BUTTON (button), GTK_TOGGLE_BUTTON (self->volts));
  g_signal_connect (button, "toggled", G_CALLBACK (reads_cb), self);
  return button;
}

static void
build_kinds (MlEntry *self)
{
  self->kinds = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 0);
  gtk_widget_add_css_class (self->kinds, "linked");
  gtk_box_append (GTK_BOX (self->halves[0]), self->kinds);
  self->volts = add_kind (self, "V", "Volts");
  self->ohms = add_kind (self, "Ω", "Ohms");
  self->diode = add_kind (self, "Diode", "Diode test");
}

static void
build_text (MlEntry *self)
{
  self->text = gtk_entry_new ();
  PangoAttrList *attributes = pango_attr_list_new ();
  pango_attr_list_insert (attributes, pango_attr_scale_new (DIGITS_SCALE));
  pango_attr_list_insert (attributes, pango_attr_weight_new (PANGO_WEIGHT_BOLD));
  gtk_entry_set_attributes (GTK_ENTRY (self->text), attributes);
  pango_attr_list_unref (attributes);
  gtk_editable_set_width_chars (GTK_EDITABLE (self->text), 8);
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->text), GTK_ACCESSIBLE_PROPERTY_LABEL, "Reading", -1);
  gtk_widget_set_name (self->text, "entry-text");
  gtk_box_append (GTK_BOX (self->halves[0]), self->text);
  g_signal_connect (self->text, "activate", G_CALLBACK (activate_cb), self);
  g_signal_connect (self->text, "changed", G_CALLBACK (text_changed_cb), self);
}

static void
add_keys (MlEntry *self)
{
  GtkEventController *keys = gtk_event_controller_key_new (), *first = gtk_event_controller_key_new ();
  g_signal_connect (keys, "key-pressed", G_CALLBACK (key_cb), self);
  gtk_widget_add_controller (GTK_WIDGET (self), keys);
  gtk_event_controller_set_propagation_phase (first, GTK_PHASE_CAPTURE);
  g_signal_connect (first, "key-pressed", G_CALLBACK (capture_key_cb), self);
  gtk_widget_add_controller (GTK_WIDGET (self), first);
}

static void
ml_entry_dispose (GObject *object)
{
  MlEntry *self = ML_ENTRY (object);
  if (self->document)
    g_clear_signal_handler (&self->changed_handler, self->document);
  g_clear_object (&self->document);
  clear_expected (self);
  G_OBJECT_CLASS (ml_entry_parent_class)->dispose (object);
}

static void
ml_entry_class_init (MlEntryClass *klass)
{
  G_OBJECT_CLASS (klass)->dispose = ml_entry_dispose;
  gtk_widget_class_set_css_name (GTK_WIDGET_CLASS (klass), "readingentry");
  const char *names[N_SIGNALS] = { "recorded", "left", "swapped" };
  for (guint i = 0; i < N_SIGNALS; i++)
    signals[i] = g_signal_new (names[i], G_TYPE_FROM_CLASS (klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
}

static void
ml_entry_init (MlEntry *self)
{
  gtk_orientable_set_orientation (GTK_ORIENTABLE (self), GTK_ORIENTATION_VERTICAL);
  gtk_box_set_spacing (GTK_BOX (self), 4);
  gtk_widget_add_css_class (GTK_WIDGET (self), "at-place");
  build_halves (self);
  build_ends (self);
  build_kinds (self);
  build_text (self);
  self->understood = add_label (self->halves[0], "understood");
  gtk_widget_set_name (self->understood, "entry-understood");
  self->question = add_label (self->halves[1], "question");
  gtk_widget_set_name (self->question, "entry-question");
  self->scale = gtk_drawing_area_new ();
  gtk_drawing_area_set_content_height (GTK_DRAWING_AREA (self->scale), SCALE_HEIGHT);
  gtk_drawing_area_set_draw_func (GTK_DRAWING_AREA (self->scale), draw_scale, self, NULL);
  gtk_box_append (GTK_BOX (self->halves[1]), self->scale);
  self->fine = add_label (self->halves[1], "faint");
  gtk_widget_set_name (self->fine, "entry-fine");
  build_leads (self);
  add_keys (self);
}

GtkWidget *
ml_entry_new (MlDocument *document)
{
  MlEntry *self = g_object_new (ML_TYPE_ENTRY, NULL);
  self->document = g_object_ref (document);
  self->changed_handler = g_signal_connect (document, "changed", G_CALLBACK (changed_cb), self);
  return GTK_WIDGET (self);
}

void
ml_entry_open (MlEntry *self, const MlProbe *red, const MlProbe *black, const char *typed)
{
  self->red = *red;
  self->black = *black;
  clear_expected (self);
  show_kinds (self);
  show_names (self);
  show_leads (self);
  show_fine (self);
  compute_expected (self);
  gtk_editable_set_text (GTK_EDITABLE (self->text), typed ? typed : "");
  show_typed (self);
  gtk_widget_grab_focus (self->text);
  gtk_editable_set_position (GTK_EDITABLE (self->text), -1);
}

void
ml_entry_fit (MlEntry *self, double width_px, double height_px)
{
  PangoFontMetrics *metrics = pango_context_get_metrics (gtk_widget_get_pango_context (GTK_WIDGET (self)), NULL, NULL);
  double char_px = pango_font_metrics_get_approximate_char_width (metrics) / (double) PANGO_SCALE;
  double line_px = (pango_font_metrics_get_ascent (metrics) + pango_font_metrics_get_descent (metrics)) / (double) PANGO_SCALE;
  gboolean wide = height_px < TALL_LINES * line_px && width_px > WIDE_CHARS * char_px;

  pango_font_metrics_unref (metrics);
  gtk_orientable_set_orientation (GTK_ORIENTABLE (self), wide ? GTK_ORIENTATION_HORIZONTAL : GTK_ORIENTATION_VERTICAL);
  gtk_box_set_spacing (GTK_BOX (self), wide ? 14 : 4);
  int chars = wide ? CLAMP ((int) (width_px / char_px) - (WIDE_CHARS - NARROW_CHARS), NARROW_CHARS, LINE_CHARS) : LINE_CHARS;
  gtk_label_set_max_width_chars (GTK_LABEL (self->question), chars);
  gtk_label_set_max_width_chars (GTK_LABEL (self->fine), chars);
}

gboolean
ml_entry_is_empty (MlEntry *self)
{
  const char *text = gtk_editable_get_text (GTK_EDITABLE (self->text));
  while (g_ascii_isspace (*text))
    text++;
  return *text == '\0';
}

const char *
ml_entry_typed (MlEntry *self)
{
  return gtk_editable_get_text (GTK_EDITABLE (self->text));
}

void
ml_entry_places (MlEntry *self, MlProbe *ret_red, MlProbe *ret_black)
{
  *ret_red = self->red;
  *ret_black = self->black;
}

void
ml_entry_set_paper (MlEntry *self, int paper)
{
  self->paper = paper;
  gtk_widget_queue_draw (self->scale);
}
