/* SPDX-License-Identifier: GPL-3.0-or-later */
/* make-font FILE: writes a font with letters of three by five squares, so that the reference pictures need no font of the machine.
 * make-font --check FILE: whether the file is that font.
 * The tables are those that the OpenType specification requires of a TrueType font (head, hhea, maxp, OS/2, hmtx, cmap, loca, glyf, name,
 * post), most significant byte first. */
#include <glib.h>
#include <math.h>
#include <string.h>

#define N_ROWS 5
#define SQUARE_W 150.0
#define SQUARE_H 140.0
#define SIDE 75 /* left of a glyph */
#define ADVANCE 600
#define SMALL 0.75 /* of small letters, which are the capitals made smaller */

/* Five octal digits, one per row from the top, a bit per square. */
static const char *const letters[] = { "25755", "65656", "34443", "65556", "74647", "74644", "34553", "55755", "72227", "11152", "55655", "44447", "57555",
                                       "75555", "25552", "65644", "25563", "65665", "34216", "72222", "55557", "55552", "55575", "55255", "55222", "71247" };

static const struct { const char *character, *rows; } others[] = {
  { "0", "75557" }, { "1", "26227" }, { "2", "71747" }, { "3", "71317" }, { "4", "55711" }, { "5", "74717" }, { "6", "74757" }, { "7", "71122" },
  { "8", "75757" }, { "9", "75717" }, { " ", "00000" }, { ".", "00002" }, { ",", "00024" }, { ":", "02020" }, { ";", "02024" }, { "-", "00700" },
  { "+", "02720" }, { "=", "07070" }, { "/", "11244" }, { "%", "51245" }, { "(", "12221" }, { ")", "42224" }, { "\"", "55000" }, { "'", "22000" },
  { "!", "22202" }, { "?", "71202" }, { "<", "12421" }, { ">", "42124" }, { "_", "00007" }, { "*", "05250" }, { "#", "57575" }, { "&", "25257" },
  { "[", "64446" }, { "]", "31113" }, { "@", "75747" }, { "^", "25000" }, { "`", "42000" }, { "{", "32623" }, { "}", "62326" }, { "|", "22222" },
  { "~", "03600" }, { "$", "36363" }, { "\\", "44211" }, { "\u03a9", "25525" }, { "\u2126", "25525" }, { "\u00b5", "55564" }, { "\u03bc", "55564" },
  { "\u00b0", "25200" }, { "\u00b7", "00200" }, { "\u00d7", "05250" }, { "\u2013", "00700" }, { "\u2014", "00700" }, { "\u2026", "00005" },
  { "\u00b1", "27207" }, { "\u2192", "01710" }, { "\u2248", "36036" }, { "\u2212", "00700" }, { "\u201c", "55000" }, { "\u201d", "55000" },
  { "\u2018", "22000" }, { "\u2019", "22000" }, { "\u2022", "02700" },
};

typedef struct { guint code; const char *rows; double scale; } Shape;
typedef struct { int x0, y0, x1, y1; } Box;

/* ---- bytes ---- */

static void
put (GByteArray *bytes, guint n_bytes, gint64 value)
{
  for (guint i = n_bytes; i-- > 0;)
    {
      guint8 byte = (guint8) (value >> 8 * i);
      g_byte_array_append (bytes, &byte, 1);
    }
}

/* A table from its fields: a letter for each, h two bytes, i four, q eight. */
static GByteArray *
table (const char *form, const gint64 *values)
{
  GByteArray *bytes = g_byte_array_new ();

  for (guint i = 0; form[i]; i++)
    put (bytes, form[i] == 'h' ? 2 : form[i] == 'i' ? 4 : 8, values[i]);
  return bytes;
}

static void
put_all (GByteArray *bytes, const GByteArray *other)
{
  g_byte_array_append (bytes, other->data, other->len);
}

static void
align (GByteArray *bytes)
{
  while (bytes->len % 4)
    put (bytes, 1, 0);
}

/* What searches in powers of two need, of n entries. */
static guint
search_range (guint n, guint *ret_log)
{
  *ret_log = g_bit_storage (n) - 1;
  return 1u << *ret_log;
}

/* ---- glyphs ---- */

/* One box per run of squares in a row. */
static GArray *
boxes_of (const Shape *shape)
{
  GArray *boxes = g_array_new (FALSE, FALSE, sizeof (Box));
  int w = (int) nearbyint (SQUARE_W * shape->scale), h = (int) nearbyint (SQUARE_H * shape->scale);

  for (int row = 0; row < N_ROWS; row++)
    for (int x = 0, end; x < 3; x = MAX (end, x + 1))
      {
        for (end = x; end < 3 && (shape->rows[row] - '0') & 4 >> end; end++)
          ;
        if (end > x)
          g_array_append_val (boxes, ((Box){ SIDE + x * w, (4 - row) * h, SIDE + end * w, (5 - row) * h }));
      }
  return boxes;
}

static int
corner (const Box *box, guint i, guint axis)
{
  return axis == 0 ? (i < 2 ? box->x0 : box->x1) : i == 1 || i == 2 ? box->y1 : box->y0;
}

/* A simple glyph: four points per box, clockwise, each as its distance from the one before. */
static void
put_glyph (GByteArray *bytes, const GArray *boxes)
{
  Box hull = { G_MAXINT, G_MAXINT, G_MININT, G_MININT };

  if (!boxes->len)
    return;
  for (guint i = 0; i < boxes->len; i++)
    {
      const Box *box = &g_array_index (boxes, Box, i);
      hull = (Box){ MIN (hull.x0, box->x0), MIN (hull.y0, box->y0), MAX (hull.x1, box->x1), MAX (hull.y1, box->y1) };
    }
  for (guint i = 0; i < 5; i++)
    put (bytes, 2, ((const int[]){ (int) boxes->len, hull.x0, hull.y0, hull.x1, hull.y1 })[i]);
  for (guint i = 0; i < boxes->len; i++)
    put (bytes, 2, 4 * i + 3);
  put (bytes, 2, 0); /* no instructions */
  for (guint i = 0; i < 4 * boxes->len; i++)
    put (bytes, 1, 1); /* on the curve */
  for (guint axis = 0; axis < 2; axis++)
    for (guint i = 0; i < 4 * boxes->len; i++)
      {
        guint before = i ? i - 1 : 0;
        int at = corner (&g_array_index (boxes, Box, i / 4), i % 4, axis);

        put (bytes, 2, i ? at - corner (&g_array_index (boxes, Box, before / 4), before % 4, axis) : at);
      }
  align (bytes);
}

static gint
by_code (gconstpointer a, gconstpointer b)
{
  return (int) ((const Shape *) a)->code - (int) ((const Shape *) b)->code;
}

static GArray *
list_shapes (void)
{
  GArray *shapes = g_array_new (FALSE, FALSE, sizeof (Shape));

  for (guint i = 0; i < G_N_ELEMENTS (letters); i++)
    {
      g_array_append_val (shapes, ((Shape){ 'A' + i, letters[i], 1 }));
      g_array_append_val (shapes, ((Shape){ 'a' + i, letters[i], SMALL }));
    }
  for (guint i = 0; i < G_N_ELEMENTS (others); i++)
    g_array_append_val (shapes, ((Shape){ g_utf8_get_char (others[i].character), others[i].rows, 1 }));
  g_array_sort (shapes, by_code);
  return shapes;
}

/* Fills glyf and loca; the first glyph, of characters that are missing, is an empty frame. */
static void
put_glyphs (const GArray *shapes, GByteArray *glyf, GByteArray *loca)
{
  static const Box frame[] = { { 75, 0, 525, 70 }, { 75, 70, 145, 630 }, { 455, 70, 525, 630 }, { 75, 630, 525, 700 } };
  g_autoptr (GArray) boxes = g_array_new (FALSE, FALSE, sizeof (Box));

  g_array_append_vals (boxes, frame, G_N_ELEMENTS (frame));
  put (loca, 4, 0);
  put_glyph (glyf, boxes);
  for (guint i = 0; i < shapes->len; i++)
    {
      g_autoptr (GArray) own = boxes_of (&g_array_index (shapes, Shape, i));

      put (loca, 4, glyf->len);
      put_glyph (glyf, own);
    }
  put (loca, 4, glyf->len);
}

/* ---- tables ---- */

/* One subtable of format 4, one segment per character. */
static GByteArray *
character_map (const GArray *shapes)
{
  guint n = shapes->len + 1, log, range = search_range (n, &log);
  GByteArray *bytes = table ("hhhhihhhhhhh", (const gint64[]){ 0, 1, 3, 1, 12, 4, 16 + 8 * n, 0, 2 * n, 2 * range, log, 2 * (n - range) });

  for (guint part = 0; part < 2; part++) /* where each segment ends and begins */
    {
      for (guint i = 0; i < shapes->len; i++)
        put (bytes, 2, g_array_index (shapes, Shape, i).code);
      put (bytes, 2, 0xFFFF);
      if (part == 0)
        put (bytes, 2, 0);
    }
  for (guint i = 0; i < shapes->len; i++)
    put (bytes, 2, (int) (i + 1) - (int) g_array_index (shapes, Shape, i).code);
  put (bytes, 2, 1);
  for (guint i = 0; i < n; i++)
    put (bytes, 2, 0);
  return bytes;
}

static GByteArray *
names (void)
{
  static const struct { guint key; const char *text; } texts[] = {
    { 1, "Meterleaf Test" }, { 2, "Regular" }, { 3, "Meterleaf Test" }, { 4, "Meterleaf Test" }, { 6, "MeterleafTest" }
  };
  GByteArray *bytes = table ("hhh", (const gint64[]){ 0, G_N_ELEMENTS (texts), 6 + 12 * G_N_ELEMENTS (texts) });
  guint at = 0;

  for (guint i = 0; i < G_N_ELEMENTS (texts); at += 2 * (guint) strlen (texts[i++].text))
    for (guint k = 0; k < 6; k++)
      put (bytes, 2, ((const guint[]){ 3, 1, 0x409, texts[i].key, 2 * (guint) strlen (texts[i].text), at })[k]);
  for (guint i = 0; i < G_N_ELEMENTS (texts); i++)
    for (const char *c = texts[i].text; *c; c++)
      put (bytes, 2, *c);
  return bytes;
}

static GByteArray *
os2 (guint first, guint last)
{
  GByteArray *bytes = table ("hhhhhhhhhhhhhhhh", (const gint64[]){ 4, ADVANCE, 400, 5, 0, 650, 600, 0, 75, 650, 600, 0, 350, 50, 250, 0 });

  for (guint i = 0; i < 10; i++)
    put (bytes, 1, 0);
  for (guint i = 0; i < 4; i++)
    put (bytes, 4, i == 0);
  g_byte_array_append (bytes, (const guint8 *) "MLTF", 4);
  g_autoptr (GByteArray) rest = table ("hhhhhhhhiihhhhh", (const gint64[]){ 0x40, first, last, 750, -250, 0, 750, 250, 1, 0, 525, 700, 0, 32, 1 });
  put_all (bytes, rest);
  return bytes;
}

static guint32
checksum (const GByteArray *bytes)
{
  guint32 sum = 0;

  for (guint i = 0; i < bytes->len; i++)
    sum += (guint32) bytes->data[i] << 8 * (3 - i % 4);
  return sum;
}

static GByteArray *
make_font (void)
{
  enum { N_TABLES = 10 };
  static const char *const tags[N_TABLES] = { "OS/2", "cmap", "glyf", "head", "hhea", "hmtx", "loca", "maxp", "name", "post" };
  g_autoptr (GArray) shapes = list_shapes ();
  guint n = shapes->len + 1, log, range = search_range (N_TABLES, &log);
  GByteArray *glyf = g_byte_array_new (), *loca = g_byte_array_new (), *hmtx = g_byte_array_new ();
  GByteArray *font = table ("ihhhh", (const gint64[]){ 0x10000, N_TABLES, 16 * range, log, 16 * (N_TABLES - range) });
  g_autoptr (GByteArray) body = g_byte_array_new ();

  put_glyphs (shapes, glyf, loca);
  for (guint i = 0; i < n; i++)
    {
      put (hmtx, 2, ADVANCE);
      put (hmtx, 2, SIDE);
    }
  GByteArray *tables[N_TABLES] = {
    os2 (g_array_index (shapes, Shape, 0).code, g_array_index (shapes, Shape, shapes->len - 1).code), character_map (shapes), glyf,
    table ("iiiihhqqhhhhhhhhh", (const gint64[]){ 0x10000, 0x10000, 0, 0x5F0F3CF5, 3, 1000, 0, 0, 0, 0, 600, 700, 0, 8, 2, 1, 0 }),
    table ("ihhhhhhhhhhhhhhhh", (const gint64[]){ 0x10000, 750, -250, 0, ADVANCE, 0, 0, ADVANCE, 1, 0, 0, 0, 0, 0, 0, 0, n }), hmtx, loca,
    table ("ihhhhhhhhhhhhhh", (const gint64[]){ 0x10000, n, 64, 16, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0 }), names (),
    table ("iihhiiiii", (const gint64[]){ 0x30000, 0, -100, 50, 1, 0, 0, 0, 0 })
  };
  for (guint i = 0; i < N_TABLES; i++)
    {
      g_byte_array_append (font, (const guint8 *) tags[i], 4);
      put (font, 4, checksum (tables[i]));
      put (font, 4, 12 + 16 * N_TABLES + body->len);
      put (font, 4, tables[i]->len);
      put_all (body, tables[i]);
      align (body);
      g_byte_array_unref (tables[i]);
    }
  put_all (font, body);
  return font;
}

int
main (int argc, char **argv)
{
  g_autoptr (GByteArray) font = make_font ();
  g_autoptr (GError) error = NULL;
  g_autofree char *there = NULL;
  gsize length;

  if (argc == 3 && g_str_equal (argv[1], "--check") && g_file_get_contents (argv[2], &there, &length, &error))
    {
      if (length == font->len && memcmp (there, font->data, length) == 0)
        return 0;
      g_printerr ("%s is not what make-font writes\n", argv[2]);
    }
  else if (argc == 2 && g_file_set_contents (argv[1], (const char *) font->data, font->len, &error))
    return 0;
  else
    g_printerr ("%s\n", error ? error->message : "make-font [--check] FILE");
  return 1;
}
