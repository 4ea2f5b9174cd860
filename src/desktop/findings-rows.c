/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/findings-rows.h"

#include <string.h>

#include "desktop/findings-text.h"

#define LEAST_SHOWN 0.005 /* probability below which a row is not worth a line */
#define MOST_WAYS 3u      /* that a row spells out */
#define LEAST_SAID 0.05   /* share of its row below which one of a part's faults is not spelt out */

void
ml_findings_row_free (MlFindingsRow *row)
{
  g_free (row->title);
  g_array_unref (row->members);
  g_free (row);
}

static MlFindingsRow *
row_new (void)
{
  MlFindingsRow *row = g_new0 (MlFindingsRow, 1);

  row->members = g_array_new (FALSE, FALSE, sizeof (guint));
  return row;
}

static void
take_member (const MlVerdict *verdict, MlFindingsRow *row, guint index, gboolean *taken)
{
  if (taken[index])
    return;
  taken[index] = TRUE;
  row->probability += verdict->explanations[index].probability;
  g_array_append_val (row->members, index);
}

static gboolean
is_of_part (const MlExplanation *explanation)
{
  return explanation->n_faults == 1 && explanation->faults[0].part >= 0;
}

/* What is wrong with one of several, as it is said of each alone. */
static const char *const said_of_one[ML_N_FAULTS] = {
  [ML_FAULT_OPEN] = "open",
  [ML_FAULT_JOINT] = "a bad solder joint",
  [ML_FAULT_SHORT] = "shorted",
  [ML_FAULT_LEAK] = "leaking",
  [ML_FAULT_HIGH] = "drifted high",
  [ML_FAULT_LOW] = "drifted low",
  [ML_FAULT_REVERSED] = "the wrong way round",
  [ML_FAULT_DEAD] = "dead",
  [ML_FAULT_THROUGH] = "shorted from input to output",
  [ML_FAULT_STUCK_HIGH] = "output stuck high",
  [ML_FAULT_STUCK_LOW] = "output stuck low",
  [ML_FAULT_MISBEHAVING] = "misbehaving",
  [ML_FAULT_STOPPED] = "not switching",
  [ML_FAULT_WRONG_PART] = "a wrong part fitted",
  [ML_FAULT_STRAY_LINK] = "a stray link",
  [ML_FAULT_BROKEN_TRACK] = "a broken track",
  [ML_FAULT_PINS_EXCHANGED] = "two pins the other way round than drawn",
  [ML_FAULT_DRAWN_REVERSED] = "the other way round than drawn",
  [ML_FAULT_MISSING_LINK] = "joined, but drawn apart",
  [ML_FAULT_EXTRA_LINK] = "not joined as drawn",
  [ML_FAULT_WRONG_NET] = "a pin on another net than drawn",
};

/* Takes in what is wrong by that explanation, once. FALSE: two things at once, which no single word says. */
static gboolean
add_kind (GPtrArray *kinds, const MlExplanation *explanation)
{
  const MlFault *fault = explanation->n_faults == 1 ? &explanation->faults[0] : NULL;
  const char *said = fault ? said_of_one[fault->kind] : NULL;

  if (fault && ml_fault_is_worn_contact (fault))
    said = "a worn contact";
  if (fault && fault->kind == ML_FAULT_WRONG_PART && explanation->explains == ML_EXPLAINS_DRAWING)
    said = "of a type that the drawing does not say";
  if (said != NULL && !g_ptr_array_find_with_equal_func (kinds, said, g_str_equal, NULL))
    g_ptr_array_add (kinds, (gpointer) said);
  return said != NULL;
}

/* "open, shorted or leaking"; new string. */
static char *
join_kinds (GPtrArray *kinds)
{
  GString *text = g_string_new (NULL);

  for (guint i = 0; i < kinds->len; i++)
    g_string_append_printf (text, "%s%s", i == 0 ? "" : i + 1 < kinds->len ? ", " : " or ", (const char *) kinds->pdata[i]);
  return g_string_free (text, FALSE);
}

/* "Q1 open at its drain, or open at its source": all that may be wrong with one part, but what is hardly likely. */
static char *
part_title (const MlVerdict *verdict, const MlFindingsRow *row)
{
  guint n = 1;

  while (n < MIN (row->members->len, MOST_WAYS)
         && verdict->explanations[g_array_index (row->members, guint, n)].probability >= LEAST_SAID * row->probability)
    n++;
  return n > 1 ? ml_verdict_ways (verdict, (const guint *) row->members->data, n)
               : g_strdup (verdict->explanations[g_array_index (row->members, guint, 0)].title);
}

/* "One of D3, D4: open or shorted", without the faults when there are more than a person reads at a glance; "Q1 open at its drain, or open at its
 * source" for one part; "Nothing wrong, or in D3, D4 a fault of a kind that no reading shows yet" when a sound
 * board is among them: other faults of those parts may well have been ruled out. */
static char *
group_title (const MlVerdict *verdict, const MlFindingsRow *row)
{
  const MlBoard *board = verdict->job->board;
  g_autoptr (GPtrArray) names = g_ptr_array_new_with_free_func (g_free);
  const MlExplanation *first = &verdict->explanations[g_array_index (row->members, guint, 0)];
  g_autoptr (GPtrArray) kinds = g_ptr_array_new ();
  gboolean all_said = TRUE, nothing_wrong = FALSE;

  for (guint i = 0; i < row->members->len; i++)
    {
      const MlExplanation *explanation = &verdict->explanations[g_array_index (row->members, guint, i)];
      g_autofree char *name = ml_findings_names (board, explanation);
      nothing_wrong = nothing_wrong || explanation->explains == ML_EXPLAINS_HEALTHY;
      all_said = add_kind (kinds, explanation) && all_said;
      if (name[0] != '\0' && !g_ptr_array_find_with_equal_func (names, name, g_str_equal, NULL))
        g_ptr_array_add (names, g_steal_pointer (&name));
    }
  if (nothing_wrong && names->len > 0)
    {
      g_ptr_array_add (names, NULL);
      g_autofree char *unread = g_strjoinv (", ", (char **) names->pdata);
      return g_strdup_printf ("Nothing wrong, or in %s a fault of a kind that no reading shows yet", unread);
    }
  if (names->len < 2 && is_of_part (first))
    return part_title (verdict, row);
  if (names->len < 2)
    return g_strdup (first->title);
  g_ptr_array_add (names, NULL);
  g_autofree char *list = g_strjoinv (", ", (char **) names->pdata);
  if (!all_said || kinds->len > MOST_WAYS)
    return g_strdup_printf ("One of %s", list);
  g_autofree char *wrong = join_kinds (kinds);
  return g_strdup_printf ("One of %s: %s", list, wrong);
}

/* A row of faults and a slip of the drawing that reads the same: "Q1 leaking from collector to base, or the drawing is wrong: R1 pin 2 is on net A,
 * not on B as drawn". new string. */
static char *
mixed_title (const MlVerdict *verdict, const MlFindingsRow *row)
{
  MlFindingsRow faults = { .members = g_array_new (FALSE, FALSE, sizeof (guint)) };
  const MlExplanation *drawn = NULL;
  char *title;

  for (guint i = 0; i < row->members->len; i++)
    {
      guint index = g_array_index (row->members, guint, i);
      if (verdict->explanations[index].explains != ML_EXPLAINS_DRAWING)
        g_array_append_val (faults.members, index);
      else if (drawn == NULL || verdict->explanations[index].probability > drawn->probability)
        drawn = &verdict->explanations[index];
    }
  if (drawn == NULL || faults.members->len == 0)
    title = group_title (verdict, row);
  else
    {
      g_autofree char *first = faults.members->len > 1 ? group_title (verdict, &faults)
                                                       : g_strdup (verdict->explanations[g_array_index (faults.members, guint, 0)].title);
      title = g_strdup_printf ("%s, or the drawing is wrong: %s", first, drawn->title);
    }
  g_array_unref (faults.members);
  return title;
}

static void
name_row (const MlVerdict *verdict, MlFindingsRow *row)
{
  g_free (row->title);
  row->title = row->members->len > 1 ? mixed_title (verdict, row) : g_strdup (verdict->explanations[g_array_index (row->members, guint, 0)].title);
}

static MlFindingsRow *
row_of (const MlVerdict *verdict, guint index, gboolean *taken)
{
  const MlExplanation *explanation = &verdict->explanations[index];
  MlFindingsRow *row = row_new ();

  take_member (verdict, row, index, taken);
  for (guint i = 0; i < explanation->n_tied; i++)
    {
      int tied = ml_findings_find (verdict, explanation->tied[i]);
      if (tied >= 0)
        take_member (verdict, row, (guint) tied, taken);
    }
  name_row (verdict, row);
  return row;
}

/* Two rows in the same words are one to whoever reads them, and the same thing to do. */
static void
join_alike (GPtrArray *rows)
{
  for (guint i = 0; i < rows->len; i++)
    for (guint k = rows->len - 1; k > i; k--)
      {
        MlFindingsRow *first = g_ptr_array_index (rows, i), *later = g_ptr_array_index (rows, k);
        if (strcmp (first->title, later->title) != 0)
          continue;
        first->probability += later->probability;
        g_array_append_vals (first->members, later->members->data, later->members->len);
        g_ptr_array_remove_index (rows, k);
      }
}

static int
by_probability (gconstpointer a, gconstpointer b)
{
  const MlFindingsRow *first = *(MlFindingsRow *const *) a, *second = *(MlFindingsRow *const *) b;

  return (first->probability < second->probability) - (first->probability > second->probability);
}

/* ---- what the sentence says stands first ---- */

static gboolean
has_member (const MlFindingsRow *row, guint index)
{
  for (guint i = 0; i < row->members->len; i++)
    if (g_array_index (row->members, guint, i) == index)
      return TRUE;
  return FALSE;
}

static guint
find_row (GPtrArray *rows, guint index)
{
  guint i = 0;

  while (i < rows->len && !has_member (g_ptr_array_index (rows, i), index))
    i++;
  return i;
}

static int
by_index (gconstpointer a, gconstpointer b)
{
  return *(const guint *) a < *(const guint *) b ? -1 : 1;
}

/* Whether it is a fault of that part alone; part < 0: of a suspect one. */
static gboolean
is_fault_of (const MlVerdict *verdict, const MlExplanation *explanation, int part)
{
  if (explanation->explains != ML_EXPLAINS_FAULT || !is_of_part (explanation))
    return FALSE;
  return part < 0 ? verdict->parts[explanation->faults[0].part].verdict == ML_VERDICT_SUSPECT : explanation->faults[0].part == part;
}

/* Out of that row all faults of that part, or of suspect ones; FALSE: nothing is left of it. */
static gboolean
give_faults (const MlVerdict *verdict, MlFindingsRow *from, int part, MlFindingsRow *to)
{
  guint before = from->members->len;

  for (guint i = from->members->len; i > 0; i--)
    {
      guint index = g_array_index (from->members, guint, i - 1);
      const MlExplanation *explanation = &verdict->explanations[index];

      if (!is_fault_of (verdict, explanation, part))
        continue;
      g_array_append_val (to->members, index);
      to->probability += explanation->probability;
      from->probability -= explanation->probability;
      g_array_remove_index (from->members, i - 1);
    }
  if (from->members->len > 0 && from->members->len < before)
    name_row (verdict, from);
  return from->members->len > 0;
}

/* The sentence goes by what all faults of a part come to together; one of them may be less likely than a row of several parts that read alike. That
 * part has a row of its own then. */
static void
gather_part (const MlVerdict *verdict, GPtrArray *rows, MlFindingsRow *named, int part)
{
  for (guint i = rows->len; i > 0; i--)
    if (g_ptr_array_index (rows, i - 1) != named && !give_faults (verdict, g_ptr_array_index (rows, i - 1), part, named))
      g_ptr_array_remove_index (rows, i - 1);
  g_array_sort (named->members, by_index);
  if (named->members->len > 0)
    name_row (verdict, named);
}

/* "Probably one of R1, R2, Q1": where something else is likelier than each of them, but not than all of them, they are one row, as in the sentence. */
static void
lead_with_suspects (const MlVerdict *verdict, GPtrArray *rows)
{
  const MlFindingsRow *first = rows->len > 0 ? g_ptr_array_index (rows, 0) : NULL;
  MlFindingsRow *suspects;

  if (!verdict->one_of_suspects || first == NULL)
    return;
  for (guint i = 0; i < first->members->len; i++)
    if (is_fault_of (verdict, &verdict->explanations[g_array_index (first->members, guint, i)], -1))
      return;
  suspects = row_new ();
  gather_part (verdict, rows, suspects, -1);
  if (suspects->members->len > 0)
    g_ptr_array_insert (rows, 0, suspects);
  else
    ml_findings_row_free (suspects); /* they are suspect by pairs of faults */
}

static void
lead_with_named (const MlVerdict *verdict, GPtrArray *rows)
{
  int index = verdict->named ? ml_findings_find (verdict, verdict->named) : -1;
  guint at = index < 0 ? rows->len : find_row (rows, (guint) index);
  const MlExplanation *explanation = index < 0 ? NULL : &verdict->explanations[index];
  MlFindingsRow *named;

  if (at == 0 || at >= rows->len)
    return;
  named = g_ptr_array_index (rows, at);
  if (explanation->explains == ML_EXPLAINS_FAULT && is_of_part (explanation))
    gather_part (verdict, rows, named, explanation->faults[0].part);
  g_ptr_array_sort (rows, by_probability);
  at = find_row (rows, (guint) index);
  g_ptr_array_insert (rows, 0, g_ptr_array_steal_index (rows, at));
}

/* The part that all of the row is about, or -1. */
static int
part_of (const MlVerdict *verdict, const MlFindingsRow *row)
{
  int part = -1;

  for (guint i = 0; i < row->members->len; i++)
    {
      const MlExplanation *explanation = &verdict->explanations[g_array_index (row->members, guint, i)];
      if (explanation->explains == ML_EXPLAINS_DRAWING)
        continue;
      if (explanation->explains != ML_EXPLAINS_FAULT || !is_of_part (explanation) || (part >= 0 && explanation->faults[0].part != part))
        return -1;
      part = explanation->faults[0].part;
    }
  return part;
}

/* Where the first row is about one part, it has all of that part's faults, and its figure is the one that stands at the part on the drawing: what
 * two faults come to of which it is one is in both. */
static void
lead_with_whole_part (const MlVerdict *verdict, GPtrArray *rows)
{
  MlFindingsRow *first = rows->len > 0 ? g_ptr_array_index (rows, 0) : NULL;
  int part = first != NULL ? part_of (verdict, first) : -1;

  if (part < 0)
    return;
  gather_part (verdict, rows, first, part);
  if ((guint) part < verdict->n_parts)
    first->probability = MAX (first->probability, verdict->parts[part].probability);
}

GPtrArray *
ml_findings_rows (const MlVerdict *verdict, guint most)
{
  GPtrArray *rows = g_ptr_array_new_with_free_func ((GDestroyNotify) ml_findings_row_free);
  g_autofree gboolean *taken = g_new0 (gboolean, verdict->n_explanations + 1);

  for (guint i = 0; i < verdict->n_explanations; i++)
    if (!taken[i])
      g_ptr_array_add (rows, row_of (verdict, i, taken));
  join_alike (rows);
  g_ptr_array_sort (rows, by_probability);
  lead_with_named (verdict, rows);
  lead_with_suspects (verdict, rows);
  lead_with_whole_part (verdict, rows);
  while (rows->len > 1 && (rows->len > most || ((MlFindingsRow *) g_ptr_array_index (rows, rows->len - 1))->probability < LEAST_SHOWN))
    g_ptr_array_set_size (rows, (int) rows->len - 1);
  return rows;
}
