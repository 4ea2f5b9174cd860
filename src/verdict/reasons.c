/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The verdict in a technician's words: the sentence. Why: why.c. */
#include "verdict/judge-private.h"

#include "verdict/assumptions.h"
#include "verdict/observe.h"
#include "verdict/pairs.h"

#include <math.h>

#define WORTH_SAYING 0.02 /* what reads the same but is less likely than this only clutters the sentence */

/* ---- the sentence ---- */

static char *
list_suspects (const MlVerdict *verdict, guint *ret_n, double *ret_together)
{
  GString *names = g_string_new (NULL);

  *ret_n = 0;
  *ret_together = 0;
  for (guint i = 0; i < verdict->n_parts; i++)
    if (verdict->parts[i].verdict == ML_VERDICT_SUSPECT)
      {
        g_string_append_printf (names, "%s%s", names->len ? ", " : "", verdict->job->board->parts[i].name);
        *ret_together += verdict->parts[i].probability;
        ++*ret_n;
      }
  return g_string_free (names, FALSE);
}

static gboolean
names_suspect (const MlVerdict *verdict, const MlExplanation *explanation)
{
  if (explanation->explains != ML_EXPLAINS_FAULT && explanation->n_faults < 2) /* beside a slip of the drawing there may be a fault */
    return FALSE;
  for (guint k = explanation->explains == ML_EXPLAINS_DRAWING; k < explanation->n_faults; k++)
    if (explanation->faults[k].part >= 0 && verdict->parts[explanation->faults[k].part].verdict == ML_VERDICT_SUSPECT)
      return TRUE;
  return FALSE;
}

/* The first explanation that names a suspect part. */
static const MlExplanation *
first_suspected (const MlVerdict *verdict)
{
  for (guint i = 0; i < verdict->n_explanations; i++)
    if (names_suspect (verdict, &verdict->explanations[i]))
      return &verdict->explanations[i];
  return NULL;
}

/* One of several ways in which a part may be faulty. */
typedef struct
{
  char *words;      /* "Solder joint at S1, pin 1" */
  const char *size; /* ", about 60 Ω", or nothing */
} Way;

/* How much of both the words say alike, up to the last blank of it. */
static gsize
common_words (const char *a, const char *b)
{
  gsize length = 0;

  while (a[length] && a[length] == b[length])
    length++;
  while (length > 0 && a[length - 1] != ' ')
    length--;
  return length;
}

/* How many of the ways from there on only differ in what follows those words; 1 when they would not read as a list. */
static guint
list_length (const Way *ways, guint n, gsize own, gsize *ret_common)
{
  guint length = 1;

  for (; length < n && g_str_equal (ways[length].size, ways[0].size); length++)
    {
      gsize common = common_words (ways[0].words, ways[length].words);

      if (common <= own || (length > 1 && common != *ret_common))
        break;
      *ret_common = common;
    }
  return length;
}

/* "Q1 open at its drain, source or gate, or shorted": what each of them says of its size stands behind it, or behind the last of those that say the same. */
static char *
join_ways (const Way *ways, guint n, const char *part)
{
  GString *text = g_string_new (NULL);
  gsize own = strlen (part) + 1;

  for (guint i = 0; i < n;)
    {
      gsize common = 0;
      guint length = list_length (ways + i, n - i, own, &common);
      const char *words = ways[i].words + (i && g_str_has_prefix (ways[i].words, part) && ways[i].words[own - 1] == ' ' ? own : 0);

      g_string_append (text, i ? ", or " : "");
      g_string_append_c (text, i ? g_ascii_tolower (words[0]) : words[0]);
      g_string_append (text, words + 1);
      for (guint k = 1; k < length; k++)
        g_string_append_printf (text, "%s%s", k + 1 < length ? ", " : " or ", ways[i + k].words + common);
      i += length;
      if (i == n || !g_str_equal (ways[i].size, ways[i - 1].size))
        g_string_append (text, ways[i - 1].size);
    }
  return g_string_free (text, FALSE);
}

char *
ml_verdict_ways (const MlVerdict *verdict, const guint *which, guint n)
{
  const MlBoard *board = verdict->job->board;
  g_autofree Way *ways = g_new (Way, n);
  char *text;

  for (guint i = 0; i < n; i++)
    {
      const MlExplanation *one = &verdict->explanations[which[i]];
      g_autofree char *said = ml_fault_describe (board, &one->faults[0]);

      ways[i].words = g_strndup (one->title, strlen (said)); /* the same, but beginning as a sentence does */
      ways[i].size = one->title + strlen (said);
    }
  text = join_ways (ways, n, board->parts[verdict->explanations[which[0]].faults[0].part].name);
  for (guint i = 0; i < n; i++)
    g_free (ways[i].words);
  return text;
}

/* What may be wrong with the one suspect: all that is at least half as likely as its likeliest fault. */
static char *
say_suspect (const MlVerdict *verdict, const MlExplanation *first)
{
  g_autoptr (GArray) which = g_array_new (FALSE, FALSE, sizeof (guint));

  if (first->n_faults > 1) /* it is one of the two */
    return g_strdup (first->title);
  for (guint i = first - verdict->explanations; i < verdict->n_explanations; i++)
    {
      const MlExplanation *one = &verdict->explanations[i];

      if (one == first || (one->explains == ML_EXPLAINS_FAULT && one->n_faults == 1 && one->faults[0].part == first->faults[0].part
                           && one->probability >= 0.5 * first->probability))
        g_array_append_val (which, i);
    }
  return ml_verdict_ways (verdict, (const guint *) which->data, which->len);
}

char *
ml_verdict_left (const MlVerdict *verdict)
{
  guint n;

  if (!verdict->n_next || !(verdict->readings_left > 0))
    return NULL;
  n = (guint) MAX (ceil (verdict->readings_left - 0.25), 1);
  return n == 1 ? g_strdup ("One more reading should settle it.") : g_strdup_printf ("About %u more readings should settle it.", n);
}

/* "lift one leg, R1.1": the best of the suggested ones; new string. */
static char *
say_lifting (const MlVerdict *verdict)
{
  for (guint i = 0; i < verdict->n_next; i++)
    if (verdict->next[i].step)
      return g_strdup_printf ("%s and measure there", verdict->next[i].step);
  return g_strdup ("lift one leg of a part and measure it by itself, supply off");
}

static gboolean
knows_cold (const MlBoard *board)
{
  for (guint c = 0; c < board->n_conditions; c++)
    if (ml_condition_is_cold (&board->conditions[c]))
      return TRUE;
  return FALSE;
}

/* Ohms and diode tests are thought of only where the board has a condition for them. */
static char *
say_untold (const MlVerdict *verdict, const char *names, guint n)
{
  g_autofree char *lifting = say_lifting (verdict);
  g_auto (GStrv) two = g_strsplit (names, ", ", -1);
  g_autofree char *which = n == 2 ? g_strdup_printf ("%s from %s", two[0], two[1]) : g_strdup ("them apart");
  gboolean cold = knows_cold (verdict->job->board);

  return g_strdup_printf ("No reading%s can tell %s with every leg in place: %s%s.", cold ? "" : " under power", which, lifting,
                          cold ? "" : ", or add a condition without a supply, where ohms or the diode test may tell");
}

/* "; R2 shorted would read the same": faults of parts that are rarer, but that no reading speaks against; new string, empty when there are none. */
static char *
say_same (const MlVerdict *verdict, const MlExplanation *first)
{
  g_autoptr (GString) names = g_string_new (NULL);
  int last = first->faults[0].part;
  guint n = 0;

  for (guint i = 0; i < first->n_tied && n < 2; i++)
    {
      const MlExplanation *other = &verdict->explanations[first->tied[i] - 1];
      g_autofree char *words = NULL;

      if (other->explains != ML_EXPLAINS_FAULT || other->n_faults != 1 || other->faults[0].part == first->faults[0].part
          || (n && other->faults[0].part == last) || other->probability < WORTH_SAYING)
        continue;
      words = ml_fault_describe (verdict->job->board, &other->faults[0]);
      last = other->faults[0].part;
      g_string_append_printf (names, "%s%s", n++ ? " or " : "", words);
    }
  return n ? g_strdup_printf ("; %s would read the same", names->str) : g_strdup ("");
}

static gboolean
is_tied (const MlExplanation *first, guint id)
{
  for (guint i = 0; i < first->n_tied; i++)
    if (first->tied[i] == id)
      return TRUE;
  return FALSE;
}

/* "; or the drawing is wrong: R1 pin 2 is on net A, not on B as drawn": the likeliest slip of the drawing, when it reads the same or is a fair
 * part of the probability; new string, empty when there is none. */
static char *
say_or_drawn (const MlVerdict *verdict, const MlExplanation *first)
{
  for (guint i = 0; i < verdict->n_explanations; i++)
    {
      const MlExplanation *other = &verdict->explanations[i];

      if (other->explains == ML_EXPLAINS_DRAWING
          && other->probability >= (is_tied (first, other->id) ? WORTH_SAYING : ml_assumption ("word.possible")))
        return g_strdup_printf ("; or the drawing is wrong: %s", other->title);
    }
  return g_strdup ("");
}

/* An open leg is a cracked joint or a part broken inside, and no reading at the nets tells which: to solder it again costs no part. Of a part with two legs the
 * next reading asks for that by itself. */
static const char *
say_before_replacing (const MlVerdict *verdict, const MlExplanation *first)
{
  const MlFault *fault = first && first->n_faults == 1 ? &first->faults[0] : NULL;

  if (!fault || fault->kind != ML_FAULT_OPEN || fault->n_pins != 1 || verdict->job->board->parts[fault->part].n_pins <= 2)
    return "";
  return " Before it is replaced: power on, from each leg's own metal to its pad; volts there are a cracked joint.";
}

static char *
say_conviction (const MlVerdict *verdict, const char *names, guint n, double together)
{
  gboolean probably = together >= ml_assumption ("word.probably");
  const MlExplanation *first = first_suspected (verdict);
  const char *tail = probably ? "" : ", if the drawing is right";

  if (n == 1)
    {
      g_autofree char *suspect = first ? say_suspect (verdict, first) : g_strdup (names);
      g_autofree char *same = first ? say_same (verdict, first) : g_strdup ("");
      g_autofree char *drawn = first ? say_or_drawn (verdict, first) : g_strdup ("");
      return g_strdup_printf ("%s: %s%s%s%s.%s", probably ? "Probably" : "Likeliest", suspect, same, *drawn ? "" : tail, drawn,
                              probably ? say_before_replacing (verdict, first) : "");
    }
  if (verdict->next && (verdict->untold || !verdict->n_next)) /* looked for, and there is none */
    {
      g_autofree char *untold = say_untold (verdict, names, n);
      return g_strdup_printf ("%s one of %s%s. %s", probably ? "Probably" : "Likeliest", names, tail, untold);
    }
  return g_strdup_printf ("%s one of %s%s; %s cannot tell them apart.", probably ? "Probably" : "Likeliest", names, tail,
                          verdict->n_readings ? "the readings so far" : "what was seen");
}

/* The first explanation when it is one fault that is no part's: a stray link, a broken track; or NULL. */
static const MlExplanation *
leading_between_parts (const MlVerdict *verdict)
{
  const MlExplanation *first = verdict->n_explanations ? verdict->explanations : NULL;

  return first && first->explains == ML_EXPLAINS_FAULT && first->n_faults == 1 && first->faults[0].part < 0 ? first : NULL;
}

/* That the two nets are one on the board reads the same as a stray link between them; NULL when the other is no candidate. */
static const MlExplanation *
same_link (const MlVerdict *verdict, const MlExplanation *first)
{
  MlFaultKind other = first->faults[0].kind == ML_FAULT_STRAY_LINK ? ML_FAULT_MISSING_LINK : ML_FAULT_STRAY_LINK;

  for (guint i = 0; i < verdict->n_explanations; i++)
    {
      const MlExplanation *it = &verdict->explanations[i];
      if (it->n_faults == 1 && it->faults[0].kind == other && it->faults[0].net_a == first->faults[0].net_a && it->faults[0].net_b == first->faults[0].net_b)
        return it;
    }
  return NULL;
}

static char *
say_between_parts (const MlVerdict *verdict, const MlExplanation *first)
{
  const MlBoard *board = verdict->job->board;
  const MlExplanation *same = first->faults[0].kind == ML_FAULT_STRAY_LINK ? same_link (verdict, first) : NULL;
  gboolean probably = first->probability + (same ? same->probability : 0) >= ml_assumption ("word.probably");

  if (same)
    return g_strdup_printf ("%s: %s and %s are joined, by a stray link or because they are one net on the board%s.", probably ? "Probably" : "Likeliest",
                            board->nets[first->faults[0].net_a].words, board->nets[first->faults[0].net_b].words, probably ? "" : ", if the drawing is right");
  return g_strdup_printf ("%s: %s%s.", probably ? "Probably" : "Likeliest", first->title, probably ? "" : ", if the drawing is right");
}

/* The likeliest drawing slip when it is the first explanation, or NULL. */
static const MlExplanation *
leading_slip (const MlVerdict *verdict)
{
  const MlExplanation *first = verdict->n_explanations ? verdict->explanations : NULL;

  return first && first->explains == ML_EXPLAINS_DRAWING ? first : NULL;
}

static const MlExplanation *
find_misfit (const MlVerdict *verdict)
{
  for (guint i = 0; i < verdict->n_explanations; i++)
    if (verdict->explanations[i].explains == ML_EXPLAINS_MISFIT)
      return &verdict->explanations[i];
  return NULL;
}

/* The reading that the best explanation misses most. */
static guint
most_refused (const MlVerdict *verdict)
{
  guint worst = 0;
  double most = -1;

  for (guint i = 0; i < verdict->n_readings; i++)
    {
      const MlReadingVerdict *own = &verdict->readings[i];
      double off = fabs (verdict->job->readings[own->reading].measured.value - own->explained) / own->explained_sigma;
      if (isfinite (off) && off > most)
        {
          most = off;
          worst = i;
        }
    }
  return worst;
}

static char *
say_misfit (const MlVerdict *verdict, const MlCase *own)
{
  const MlExplanation *misfit = find_misfit (verdict);
  guint i = misfit && misfit->n_refusing ? misfit->refusing[0] : most_refused (verdict);
  g_autofree char *at = ml_verdict_say_at (verdict, i), *measured = ml_verdict_say_measured (verdict, i);

  return g_strdup_printf ("The circuit as drawn cannot give %s %s.", measured, at);
}

/* "; look at Q1, R3": the parts that may be it, likeliest first; new string, empty when there is none. */
static char *
say_possible (const MlVerdict *verdict)
{
  g_autoptr (GString) names = g_string_new (NULL);
  g_autofree gboolean *said = g_new0 (gboolean, MAX (verdict->n_parts, 1));

  for (guint n = 0; n < 3; n++)
    {
      int best = -1;

      for (guint i = 0; i < verdict->n_parts; i++)
        if (!said[i] && verdict->parts[i].verdict == ML_VERDICT_POSSIBLE
            && (best < 0 || verdict->parts[i].probability > verdict->parts[best].probability))
          best = (int) i;
      if (best < 0)
        break;
      said[best] = TRUE;
      g_string_append_printf (names, "%s%s", n ? ", " : "; look at ", verdict->job->board->parts[best].name);
    }
  return g_string_free (g_steal_pointer (&names), FALSE);
}

/* A sound board leads, but for one reading: new string, NULL when all are near what it gives. */
static char *
say_odd_one (const MlVerdict *verdict)
{
  guint i = most_refused (verdict);
  g_autofree char *at = NULL, *measured = NULL, *fine = NULL, *look = NULL;

  if (!verdict->n_readings || verdict->readings[i].doubtful || !ml_verdict_is_odd (verdict, i))
    return NULL;
  at = ml_verdict_say_at (verdict, i);
  measured = ml_verdict_say_measured (verdict, i);
  fine = ml_say_quantity (verdict->readings[i].healthy, ml_reading_unit (verdict->job->readings[verdict->readings[i].reading].reads));
  look = say_possible (verdict);
  return g_strdup_printf ("I cannot tell yet why there is %s %s, where a sound board gives %s%s.", measured, at, fine, look);
}

static char *
say_undecided (const MlVerdict *verdict)
{
  const char *told = verdict->n_readings ? "the readings" : "what was seen";
  guint n = 0;

  for (guint i = 0; i < verdict->n_explanations; i++)
    n += verdict->explanations[i].probability >= 0.5 * verdict->explanations[0].probability;
  if (verdict->explanations[0].explains == ML_EXPLAINS_HEALTHY)
    {
      char *odd = say_odd_one (verdict);

      if (odd)
        return odd;
      return g_strdup (verdict->n_readings ? "I cannot tell, because the readings so far are near those of a sound board and a small fault may hide among them."
                                           : "I cannot tell: what was seen may be that of a sound board, and there are no readings yet.");
    }
  return g_strdup_printf ("I cannot tell, because %u explanations fit %s about equally well.", MAX (n, 2), told);
}

/* What looks misread is said elsewhere. A chip's freedom may explain a reading that a sound board is not expected to give. */
static gboolean
gives_every_reading (const MlVerdict *verdict)
{
  for (guint i = 0; i < verdict->n_readings; i++)
    if (!verdict->readings[i].doubtful && ml_verdict_is_odd (verdict, i))
      return FALSE;
  return TRUE;
}

#define UNSEEN_NAMED 4 /* parts in a sentence that is read at a glance; the list below it has all */

/* ": every reading is what the board as drawn gives", those apart that look misread, which are named behind it. */
static const char *
every_reading (const MlVerdict *verdict)
{
  for (guint i = 0; i < verdict->n_readings; i++)
    if (verdict->readings[i].doubtful)
      return ": every other reading is what the board as drawn gives";
  return ": every reading is what the board as drawn gives";
}

/* A sound board leads, but only of what the readings touch. */
static char *
say_sound (const MlVerdict *verdict)
{
  gboolean sure = verdict->healthy_probability >= ml_assumption ("word.probably");
  g_autofree char *odd = say_odd_one (verdict);
  g_autofree char *unseen = verdict->n_readings ? ml_verdict_say_unseen (verdict, UNSEEN_NAMED) : NULL;
  const char *every = sure && gives_every_reading (verdict) ? every_reading (verdict) : NULL;

  if (odd && !sure)
    return g_steal_pointer (&odd);
  if (unseen)
    return g_strdup_printf ("%s nothing is wrong where you measured%s, but no reading would show a fault in %s.", sure ? "Probably" : "Likeliest", every ? every : "", unseen);
  if (!verdict->n_readings)
    return g_strdup (sure ? "Probably nothing is wrong, as far as can be seen without a reading."
                          : "Likeliest nothing is wrong, but what was seen leaves room for a fault.");
  if (every)
    return g_strdup_printf ("Probably nothing is wrong%s.", every);
  return g_strdup (sure ? "Probably nothing is wrong, although not every reading is what the board as drawn gives."
                        : "Likeliest nothing is wrong, but the readings so far leave room for a fault.");
}

/* Two faults: the likeliest pair, and what fits in place of one of them. */
static char *
say_pair (const MlVerdict *verdict, double together)
{
  const MlExplanation *first = &verdict->explanations[0];
  const MlBoard *board = verdict->job->board;
  g_autoptr (GString) others = g_string_new (NULL);

  for (guint i = 0; i < verdict->n_parts; i++)
    {
      gboolean named = FALSE;

      for (guint k = 0; k < first->n_faults; k++)
        named |= first->faults[k].part == (int) i;
      if (!named && verdict->parts[i].verdict == ML_VERDICT_SUSPECT)
        g_string_append_printf (others, "%s%s", others->len ? ", " : "", board->parts[i].name);
    }
  return g_strdup_printf ("%s two faults: %s%s%s%s.", together >= ml_assumption ("word.probably") ? "Probably" : "Likeliest", first->title,
                          together >= ml_assumption ("word.probably") ? "" : ", if the drawing is right",
                          others->len ? "; in place of one of them fits " : "", others->str);
}

/* The explanation whose words the sentence begins with; the explanations are there. */
static char *
naming (MlVerdict *verdict, const MlExplanation *named, char *sentence)
{
  verdict->named = named ? named->id : 0;
  return sentence;
}

static char *
say_whole (MlVerdict *verdict, const MlCase *own)
{
  guint n_suspects;
  double together;
  g_autofree char *names = list_suspects (verdict, &n_suspects, &together);
  gboolean refused = own->fit_tail < ml_assumption ("gate.probability");

  if (!verdict->n_readings && !ml_case_n_seen (own) && own->job->units[own->unit].n_passes > 1)
    return g_strdup_printf ("I cannot tell, because there are no readings of %s in pass %u yet.", own->job->units[own->unit].name, verdict->pass);
  if (!verdict->n_readings && !ml_case_n_seen (own))
    return g_strdup_printf ("I cannot tell, because there are no readings of %s yet.", own->job->units[own->unit].name);
  if (verdict->n_readings && verdict->misfit_probability >= ml_assumption ("word.likeliest"))
    return say_misfit (verdict, own);
  if (leading_slip (verdict) && own->drawing_probability >= ml_assumption ("word.likeliest"))
    return naming (verdict, leading_slip (verdict), g_strdup_printf ("Look at the drawing: %s.", leading_slip (verdict)->title));
  if (leading_between_parts (verdict) && verdict->explanations[0].probability >= ml_assumption ("word.likeliest") && !refused)
    return naming (verdict, verdict->explanations, say_between_parts (verdict, verdict->explanations));
  if (n_suspects && verdict->n_explanations && verdict->explanations[0].explains == ML_EXPLAINS_FAULT && verdict->explanations[0].n_faults > 1)
    return naming (verdict, verdict->explanations, say_pair (verdict, ml_case_pair_probability (own)));
  verdict->one_of_suspects = n_suspects > 1;
  if (n_suspects)
    return naming (verdict, n_suspects == 1 ? first_suspected (verdict) : NULL, say_conviction (verdict, names, n_suspects, together));
  if (verdict->healthy_probability >= ml_assumption ("word.likeliest") && !refused && verdict->n_compared)
    return g_strdup ("Every reading is what the board as drawn may give, but not what the good unit gives.");
  if (verdict->healthy_probability >= ml_assumption ("word.likeliest") && !refused)
    return say_sound (verdict);
  if (refused && verdict->n_readings)
    return say_misfit (verdict, own);
  return say_undecided (verdict);
}

/* Readings that seem misread belong to the sentence: they were judged as if they were not there. */
static char *
say_doubts (const MlVerdict *verdict)
{
  const MlJob *job = verdict->job;
  const MlReading *first = NULL;
  g_autofree char *place = NULL;
  guint n = 0;

  if (verdict->condition_slip)
    return g_strdup_printf (" %s", verdict->condition_slip);
  for (guint i = 0; i < verdict->n_readings; i++)
    if (verdict->readings[i].slip != ML_SLIP_NONE && n++ == 0)
      first = &job->readings[verdict->readings[i].reading];
  if (!n)
    return g_strdup ("");
  place = ml_reading_label (job, first);
  if (n == 1)
    return g_strdup_printf (" One reading looks misread: %s in condition %s.", place, job->board->conditions[first->condition].name);
  return g_strdup_printf (" %u readings look misread, %s in condition %s first.", n, place, job->board->conditions[first->condition].name);
}

/* Where the drawing does not decide, what differs between the units says where to look. */
static char *
say_compared (const MlVerdict *verdict)
{
  g_autoptr (GString) names = g_string_new (NULL);

  for (guint i = 0; i < verdict->n_compared; i++)
    if (verdict->compared[i].reading == verdict->compared[0].reading && verdict->compared[i].apart > 0.7 * verdict->compared[0].apart)
      g_string_append_printf (names, "%s%s", names->len ? ", " : "", verdict->job->board->parts[verdict->compared[i].part].name);
  return names->len ? g_strdup_printf (" By comparison with the good unit, look at %s first.", names->str) : g_strdup ("");
}

void
ml_verdict_say (MlVerdict *verdict, MlCase *own)
{
  g_autofree char *whole = say_whole (verdict, own), *doubts = say_doubts (verdict), *compared = say_compared (verdict);

  verdict->sentence = g_strconcat (whole, doubts, compared, NULL);
}
