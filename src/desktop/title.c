/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/title.h"

#define FILE_SCALE 0.82
#define LEAST_CHARS 5

struct _MlTitle
{
  GtkWidget parent_instance;
  char *name, *file;
  PangoLayout *name_layout, *file_layout; /* as they are set for the room there is */
  gboolean with_file, is_cut;
};

G_DEFINE_FINAL_TYPE (MlTitle, ml_title, GTK_TYPE_WIDGET)

static PangoLayout *
set_text (MlTitle *self, const char *text, PangoWeight weight, double scale)
{
  PangoLayout *layout = gtk_widget_create_pango_layout (GTK_WIDGET (self), text);
  g_autoptr (PangoAttrList) attributes = pango_attr_list_new ();

  pango_attr_list_insert (attributes, pango_attr_weight_new (weight));
  pango_attr_list_insert (attributes, pango_attr_scale_new (scale));
  pango_layout_set_attributes (layout, attributes);
  pango_layout_set_alignment (layout, PANGO_ALIGN_CENTER);
  return layout;
}

static void
size_of (PangoLayout *layout, int *ret_width, int *ret_height)
{
  pango_layout_get_pixel_size (layout, ret_width, ret_height);
}

/* The name at that scale, and the file's below it or not. Returns whether the name has room, no word of it broken. */
static gboolean
set_for (MlTitle *self, double scale, gboolean with_file, int width, int height)
{
  int name_width, name_height, file_width, file_height = 0;

  g_clear_object (&self->name_layout);
  g_clear_object (&self->file_layout);
  self->with_file = with_file && self->file != NULL;
  self->name_layout = set_text (self, self->name, PANGO_WEIGHT_BOLD, scale);
  self->file_layout = set_text (self, self->file ? self->file : "", PANGO_WEIGHT_NORMAL, FILE_SCALE * scale);
  if (self->with_file)
    size_of (self->file_layout, &file_width, &file_height);
  pango_layout_set_width (self->file_layout, width * PANGO_SCALE);
  pango_layout_set_ellipsize (self->file_layout, PANGO_ELLIPSIZE_MIDDLE);
  pango_layout_set_width (self->name_layout, width * PANGO_SCALE);
  pango_layout_set_wrap (self->name_layout, PANGO_WRAP_WORD);
  size_of (self->name_layout, &name_width, &name_height);
  if (name_width <= width && name_height + file_height <= height)
    return TRUE;
  pango_layout_set_height (self->name_layout, MAX (height - file_height, 1) * PANGO_SCALE); /* as many lines as there are */
  pango_layout_set_ellipsize (self->name_layout, PANGO_ELLIPSIZE_END);
  return FALSE;
}

/* The name matters more than the file, and to be read whole more than to be large. */
static void
set_title (MlTitle *self, int width, int height)
{
  static const struct { double scale; gboolean with_file; } ways[] = { { 1.0, TRUE }, { 1.0, FALSE }, { 0.85, FALSE }, { 0.7, FALSE }, { 0.6, FALSE } };
  gboolean has_room = FALSE;

  for (guint i = 0; i < G_N_ELEMENTS (ways) && !has_room; i++)
    has_room = set_for (self, ways[i].scale, ways[i].with_file, width, height);
  self->is_cut = !has_room;
}

static void
ml_title_measure (GtkWidget *widget, GtkOrientation orientation, int for_size, int *minimum, int *natural, int *minimum_baseline, int *natural_baseline)
{
  MlTitle *self = ML_TITLE (widget);
  g_autoptr (PangoLayout) name = set_text (self, self->name, PANGO_WEIGHT_BOLD, 1.0);
  g_autoptr (PangoLayout) file = set_text (self, self->file ? self->file : "", PANGO_WEIGHT_NORMAL, FILE_SCALE);
  int name_width, name_height, file_width, file_height;

  size_of (name, &name_width, &name_height);
  size_of (file, &file_width, &file_height);
  if (orientation == GTK_ORIENTATION_VERTICAL)
    *minimum = *natural = name_height + (self->file ? file_height : 0);
  else
    {
      PangoContext *context = gtk_widget_get_pango_context (widget);
      PangoFontMetrics *metrics = pango_context_get_metrics (context, NULL, NULL);
      *natural = MAX (name_width, self->file ? file_width : 0);
      *minimum = MIN (*natural, PANGO_PIXELS_CEIL (LEAST_CHARS * pango_font_metrics_get_approximate_char_width (metrics)));
      pango_font_metrics_unref (metrics);
    }
}

static void
ml_title_size_allocate (GtkWidget *widget, int width, int height, int baseline)
{
  set_title (ML_TITLE (widget), width, height);
}

static void
paint (GtkWidget *widget, GtkSnapshot *snapshot, PangoLayout *layout, float y, double opacity)
{
  GdkRGBA colour;

  gtk_style_context_get_color (gtk_widget_get_style_context (widget), &colour);
  colour.alpha *= (float) opacity;
  gtk_snapshot_save (snapshot);
  gtk_snapshot_translate (snapshot, &GRAPHENE_POINT_INIT (0, y));
  gtk_snapshot_append_layout (snapshot, layout, &colour);
  gtk_snapshot_restore (snapshot);
}

static void
ml_title_snapshot (GtkWidget *widget, GtkSnapshot *snapshot)
{
  MlTitle *self = ML_TITLE (widget);
  int width, name_height, file_height = 0;

  if (self->name_layout == NULL)
    return;
  size_of (self->name_layout, &width, &name_height);
  if (self->with_file)
    size_of (self->file_layout, &width, &file_height);
  const float y = (float) (gtk_widget_get_height (widget) - name_height - file_height) / 2.0f;
  paint (widget, snapshot, self->name_layout, y, 1.0);
  if (self->with_file)
    paint (widget, snapshot, self->file_layout, y + (float) name_height, 0.78);
}

/* What is not seen of it. */
static gboolean
ml_title_query_tooltip (GtkWidget *widget, int x, int y, gboolean keyboard, GtkTooltip *tip)
{
  MlTitle *self = ML_TITLE (widget);
  const gboolean lacks_file = self->file != NULL && (!self->with_file || (self->file_layout && pango_layout_is_ellipsized (self->file_layout)));
  g_autofree char *both = self->file != NULL ? g_strdup_printf ("%s\n%s", self->name, self->file) : g_strdup (self->name);

  gtk_tooltip_set_text (tip, both);
  return self->is_cut || lacks_file;
}

static void
ml_title_finalize (GObject *object)
{
  MlTitle *self = ML_TITLE (object);

  g_clear_object (&self->name_layout);
  g_clear_object (&self->file_layout);
  g_free (self->name);
  g_free (self->file);
  G_OBJECT_CLASS (ml_title_parent_class)->finalize (object);
}

static void
ml_title_class_init (MlTitleClass *klass)
{
  GtkWidgetClass *widget_class = GTK_WIDGET_CLASS (klass);

  G_OBJECT_CLASS (klass)->finalize = ml_title_finalize;
  widget_class->measure = ml_title_measure;
  widget_class->size_allocate = ml_title_size_allocate;
  widget_class->snapshot = ml_title_snapshot;
  widget_class->query_tooltip = ml_title_query_tooltip;
  gtk_widget_class_set_accessible_role (widget_class, GTK_ACCESSIBLE_ROLE_LABEL);
}

static void
ml_title_init (MlTitle *self)
{
  self->name = g_strdup ("");
  gtk_widget_set_has_tooltip (GTK_WIDGET (self), TRUE);
}

void
ml_title_set (MlTitle *self, const char *name, const char *file)
{
  g_autofree char *spoken = file != NULL ? g_strdup_printf ("%s, %s", name, file) : g_strdup (name);

  if (g_strcmp0 (name, self->name) == 0 && g_strcmp0 (file, self->file) == 0)
    return;
  g_free (self->name);
  g_free (self->file);
  self->name = g_strdup (name);
  self->file = g_strdup (file);
  gtk_accessible_update_property (GTK_ACCESSIBLE (self), GTK_ACCESSIBLE_PROPERTY_LABEL, spoken, -1);
  gtk_widget_queue_resize (GTK_WIDGET (self));
}

gboolean
ml_title_is_cut (MlTitle *self)
{
  return self->is_cut;
}
