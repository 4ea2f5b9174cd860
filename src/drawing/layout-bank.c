/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Units alike - the channels of a driver chip, the inputs of a connector - are drawn alike: one below the other or side by side, at one
 * pitch, in the order of the pins they hang on.
 *
 *     chip --R--(T1   load        chip --+---R---+---R---     chip --R--(T1  load   +--R--(T2  load
 *          --R--(T2   load               |       |                 ------------------+
 *          --R--(T3   load               C       C                 --R--(T3  load   +--R--(T4  load
 *                                                                  ------------------+
 */
#include "drawing/layout-alike.h"
#include "drawing/layout-idioms.h"
#include "drawing/layout-plan.h"
#include "drawing/layout-polish.h"

#define FEWEST 3
#define FEWEST_PART_RICH 2 /* units of so many parts that two of them are seen to be alike */
#define PART_RICH 4
#define RICH_BETWEEN_BOXES 3
#define MOST_UNITS 16
#define MOST_PARTS 70   /* a larger piece could not be moved about any more */
#define BESIDE 60       /* g of raster round a unit */
#define TRIES 6
#define POLISH 20
#define OWN_WEIGHT 2    /* many will look at what is drawn so often */
#define MOVES 100       /* per piece */
#define HOT 3.0
#define COLD 0.4

typedef struct
{
  MlFinder *finder;
  const MlAlike *alike;
  GPtrArray *pieces; /* of the model: its composites, and plain ones that belong to none; borrowed */
} Bank;

static int
answer (const Bank *bank, guint unit, guint k)
{
  return bank->alike->pieces[unit * bank->alike->n_pieces + k];
}

/* ---- how the model is drawn ---- */

static gboolean
is_of_unit (const Bank *bank, guint unit, int piece)
{
  guint k;

  for (k = 0; k < bank->alike->n_pieces; k++)
    if (answer (bank, unit, k) == piece)
      return TRUE;
  return FALSE;
}

static void
list_pieces (Bank *bank)
{
  const MlKit *kit = bank->finder->kit;
  guint i, k;

  bank->pieces = g_ptr_array_new ();
  for (i = 0; i < kit->composites->len; i++)
    {
      MlPiece *composite = g_ptr_array_index (kit->composites, i);
      if (is_of_unit (bank, bank->alike->model, composite->members[0]))
        g_ptr_array_add (bank->pieces, composite);
    }
  for (k = 0; k < bank->alike->n_pieces; k++)
    if (!bank->finder->used[answer (bank, bank->alike->model, k)])
      g_ptr_array_add (bank->pieces, ml_idiom_piece (bank->finder, answer (bank, bank->alike->model, k)));
}

static MlMemberList *
members_of (const MlForm *form)
{
  MlMemberList *list = ml_idiom_list ();

  g_array_append_vals (list, form->members, form->n_members);
  return list;
}

/* What a drawing of the model costs: wires, ways of standing, paper. */
static int
cost_of (MlSheet *sheet, const MlRouter *router)
{
  MlCells hull = ml_sheet_hull (sheet, -1);
  int cost = ml_sheet_shape_cost (&hull);
  guint i;

  for (i = 0; i < sheet->n; i++)
    cost += OWN_WEIGHT * ml_sheet_own_cost (sheet, (int) i);
  for (i = 0; i < router->n_nets; i++)
    cost += router->nets[i].cost;
  return cost;
}

static MlMemberList *
members_on (const Bank *bank, GPtrArray *parts, const MlSheet *sheet, const MlRouter *router)
{
  MlSheet *plain = ml_sheet_new (bank->finder->kit, parts, 1, sheet->width);
  MlMemberList *list = ml_idiom_list ();
  MlLayoutPlan *plan;
  guint k;

  ml_sheet_take_places (plain, sheet, 0, 0);
  plan = ml_layout_plan_new (plain, router);
  ml_layout_plan_compact (plan);
  for (k = 0; k < plain->n; k++)
    {
      const MlSpot *spot = &plain->spots[k];
      MlMember member = { answer (bank, bank->alike->model, k), ml_form_index (spot->piece, spot->form), spot->x, spot->y };
      g_array_append_val (list, member);
    }
  ml_layout_plan_free (plan);
  ml_sheet_free (plain);
  return list;
}

/* As it would be drawn if there were nothing else: the best of several tries. */
static MlMemberList *
arranged (const Bank *bank)
{
  GPtrArray *parts = g_ptr_array_new ();
  MlMemberList *best = NULL;
  int span = 2 * BESIDE, least = G_MAXINT;
  guint k, seed;

  for (k = 0; k < bank->alike->n_pieces; k++)
    {
      MlPiece *piece = ml_idiom_piece (bank->finder, answer (bank, bank->alike->model, k));
      const MlForm *form = g_ptr_array_index (piece->forms, 0);
      span += MAX (form->hull.x1 - form->hull.x0, form->hull.y1 - form->hull.y0) + 4;
      g_ptr_array_add (parts, piece);
    }
  for (seed = 1; seed <= TRIES; seed++)
    {
      MlSheet *sheet = ml_sheet_new (bank->finder->kit, bank->pieces, seed, span);
      MlRouter *router;
      int cost;
      ml_sheet_insert_all (sheet);
      ml_sheet_anneal (sheet, MOVES * sheet->n, HOT, COLD, NULL);
      router = ml_router_new (sheet, NULL);
      ml_router_route_all (router, 2);
      ml_polish (sheet, router, POLISH, NULL);
      cost = cost_of (sheet, router);
      if (cost < least)
        {
          least = cost;
          g_clear_pointer (&best, g_array_unref);
          best = members_on (bank, parts, sheet, router);
        }
      ml_router_free (router);
      ml_sheet_free (sheet);
    }
  g_ptr_array_unref (parts);
  return best;
}

static void
add_model (GPtrArray *models, int piece, const MlForm *form, const MlFinder *finder)
{
  MlMember member = { piece, form == NULL ? -1 : ml_form_index (ml_idiom_piece (finder, piece), form), 0, 0 };
  MlMemberList *list;

  if (form == NULL)
    return;
  list = ml_idiom_list ();
  g_array_append_val (list, member);
  g_ptr_array_add (models, list);
}

/* One part by itself: in line between two signals, upright at a rail. */
static void
list_single (const Bank *bank, GPtrArray *models, gboolean *ret_upright)
{
  int piece = answer (bank, bank->alike->model, 0);
  MlFinder *finder = bank->finder;

  if (ml_idiom_two (finder, piece))
    {
      int a = ml_idiom_net (finder, piece, 0), b = ml_idiom_net (finder, piece, 1), above;
      *ret_upright = !ml_idiom_signal (finder, a) || !ml_idiom_signal (finder, b);
      above = ml_idiom_up (finder, a) || ml_idiom_down (finder, b) ? a : b;
      add_model (models, piece, *ret_upright ? ml_idiom_standing (finder, piece, above) : ml_idiom_lying (finder, piece, a), finder);
      if (!*ret_upright)
        add_model (models, piece, ml_idiom_lying (finder, piece, b), finder);
    }
  else
    add_model (models, piece, ml_idiom_cheapest (finder, piece), finder);
}

/* Ways of drawing the model, of MlMemberList, new. */
static GPtrArray *
models_of (const Bank *bank, gboolean *ret_upright)
{
  GPtrArray *models = g_ptr_array_new_with_free_func ((GDestroyNotify) g_array_unref);
  const MlPiece *only = bank->pieces->len == 1 ? g_ptr_array_index (bank->pieces, 0) : NULL;
  MlMemberList *mirrored;
  guint i;

  *ret_upright = FALSE;
  if (bank->alike->n_pieces == 1)
    list_single (bank, models, ret_upright);
  else if (only != NULL)
    for (i = 0; i < only->n_listed; i++)
      g_ptr_array_add (models, members_of (g_ptr_array_index (only->forms, i)));
  else
    {
      g_ptr_array_add (models, arranged (bank));
      mirrored = ml_idiom_mirrored (bank->finder, g_ptr_array_index (models, 0), 0);
      if (mirrored != NULL)
        g_ptr_array_add (models, mirrored);
    }
  return models;
}

/* ---- the others like it ---- */

static int
place_of (const Bank *bank, int piece)
{
  guint k;

  for (k = 0; k < bank->alike->n_pieces; k++)
    if (answer (bank, bank->alike->model, k) == piece)
      return (int) k;
  return -1;
}

/* The form that has all answering pins where `form` has its own; *ret_pin: one pair of them. */
static MlForm *
form_like (const Bank *bank, guint unit, guint k, const MlForm *form, int *ret_pin, int *ret_answer)
{
  MlPiece *from = ml_idiom_piece (bank->finder, answer (bank, bank->alike->model, k));
  MlPiece *to = ml_idiom_piece (bank->finder, answer (bank, unit, k));
  guint i, p;

  if (from == to)
    {
      *ret_pin = *ret_answer = 0;
      return (MlForm *) form;
    }
  if (to->kind == ML_PIECE_PART && !to->is_box && !bank->alike->turned[unit * bank->alike->n_pieces + k])
    ml_piece_form_at (to, bank->finder->circuit, form->symbol, form->turn, form->mirror); /* there may be none yet */
  for (i = 0; i < to->forms->len; i++)
    {
      MlForm *other = g_ptr_array_index (to->forms, i);
      gboolean same = g_strcmp0 (other->symbol, form->symbol) == 0;
      int known = -1, known_answer = -1;
      for (p = 0; p < from->n_pins && same; p++)
        {
          int q = ml_alike_pin (bank->alike, bank->finder->kit, unit, k, (int) p);
          if (q < 0)
            continue;
          same = other->pins[q].side == form->pins[p].side
                 && (known < 0
                     || (other->pins[q].x - other->pins[known_answer].x == form->pins[p].x - form->pins[known].x
                         && other->pins[q].y - other->pins[known_answer].y == form->pins[p].y - form->pins[known].y));
          known = (int) p;
          known_answer = q;
        }
      if (!same || known < 0)
        continue;
      *ret_pin = known;
      *ret_answer = known_answer;
      return other;
    }
  return NULL;
}

/* A unit drawn as the model is; NULL when one of its parts cannot be. */
static MlMemberList *
copy_of (const Bank *bank, guint unit, const MlMemberList *model)
{
  MlMemberList *list = ml_idiom_list ();
  guint i;

  for (i = 0; i < model->len; i++)
    {
      MlMember member = g_array_index (model, MlMember, i);
      int k = place_of (bank, member.piece), pin, answering;
      const MlForm *form = g_ptr_array_index (ml_idiom_piece (bank->finder, member.piece)->forms, (guint) member.form);
      MlForm *like = k < 0 ? NULL : form_like (bank, unit, (guint) k, form, &pin, &answering);
      MlPiece *piece;
      if (like == NULL)
        {
          g_array_unref (list);
          return NULL;
        }
      piece = ml_idiom_piece (bank->finder, answer (bank, unit, (guint) k));
      member = (MlMember){ answer (bank, unit, (guint) k), ml_form_index (piece, like), member.dx + form->pins[pin].x - like->pins[answering].x,
                           member.dy + form->pins[pin].y - like->pins[answering].y };
      g_array_append_val (list, member);
    }
  return list;
}

/* ---- how far apart ---- */

/* What a unit covers; grown: with a wire's room round bodies. */
static GArray *
cells_of (const Bank *bank, const MlMemberList *list, int grown)
{
  GArray *cells = g_array_new (FALSE, FALSE, sizeof (MlCells));
  MlCells pins = { G_MAXINT, G_MAXINT, G_MININT, G_MININT };
  guint i, k;

#define ADD(c, by) G_STMT_START { MlCells cell_ = { (c).x0 + m->dx - (by), (c).y0 + m->dy - (by), (c).x1 + m->dx + (by), (c).y1 + m->dy + (by) }; \
                                  g_array_append_val (cells, cell_); } G_STMT_END
  for (i = 0; i < list->len; i++)
    {
      const MlMember *m = &g_array_index (list, MlMember, i);
      const MlPiece *piece = ml_idiom_piece (bank->finder, m->piece);
      const MlForm *form = g_ptr_array_index (piece->forms, (guint) m->form);
      for (k = 0; k < form->n_cores; k++)
        ADD (form->cores[k], grown);
      for (k = 0; k < form->n_rooms; k++)
        ADD (form->rooms[k], 0);
      for (k = 0; k < piece->n_pins; k++)
        {
          MlCells at = { form->pins[k].x + m->dx, form->pins[k].y + m->dy, form->pins[k].x + m->dx, form->pins[k].y + m->dy };
          ml_cells_widen (&pins, &at);
        }
    }
#undef ADD
  g_array_append_val (cells, pins);
  return cells;
}

/* So far must b move along an axis to lie beyond a. */
static int
pitch_between (const GArray *a, const GArray *b, int axis)
{
  int pitch = 1;
  guint i, k;

  for (i = 0; i < a->len; i++)
    for (k = 0; k < b->len; k++)
      {
        const MlCells *p = &g_array_index (a, MlCells, i), *q = &g_array_index (b, MlCells, k);
        if (axis == 0 ? p->y0 <= q->y1 && q->y0 <= p->y1 : p->x0 <= q->x1 && q->x0 <= p->x1)
          pitch = MAX (pitch, axis == 0 ? p->x1 - q->x0 + 1 : p->y1 - q->y0 + 1);
      }
  return pitch;
}

/* The widest that any two neighbours need, `step` apart in the bank's order. */
static int
pitch_of (const Bank *bank, const GPtrArray *units, guint step, int axis)
{
  int pitch = 1;
  guint u;

  for (u = step; u < units->len; u++)
    {
      GArray *before = cells_of (bank, g_ptr_array_index (units, u - step), 1), *behind = cells_of (bank, g_ptr_array_index (units, u), 0);
      pitch = MAX (pitch, pitch_between (before, behind, axis));
      g_array_unref (before);
      g_array_unref (behind);
    }
  return pitch;
}

/* Unit after unit from left to right, so many in a row, then on in the next row. */
static MlMemberList *
set_in_rows (const GPtrArray *units, guint in_a_row, int across, int down)
{
  MlMemberList *all = ml_idiom_list ();
  guint u, i;

  for (u = 0; u < units->len; u++)
    {
      const MlMemberList *list = g_ptr_array_index (units, u);
      for (i = 0; i < list->len; i++)
        {
          MlMember member = g_array_index (list, MlMember, i);
          member.dx += (int) (u % in_a_row) * across;
          member.dy += (int) (u / in_a_row) * down;
          g_array_append_val (all, member);
        }
    }
  return all;
}

#define TWO_COLUMNS 2
#define WIRE_BELOW 2 /* g: to each unit of the second column a wire runs below one of the first */
#define WIRE_UP 2    /* and up between them */
#define FLAT 8       /* g: units so low stand one below the other beside their chip, however many there are */

/* ---- the bank ---- */

static void
add_ways (const Bank *bank, const MlMemberList *model, gboolean row, gboolean column, GPtrArray *ways)
{
  GPtrArray *units = g_ptr_array_new_with_free_func ((GDestroyNotify) g_array_unref);
  gboolean two_columns = row && column && bank->alike->n_hubs <= 1 && bank->alike->n_units >= 2 * TWO_COLUMNS;
  int down;
  guint u;

  for (u = 0; u < bank->alike->n_units; u++)
    {
      MlMemberList *list = copy_of (bank, u, model);
      if (list == NULL)
        break;
      g_ptr_array_add (units, list);
    }
  down = pitch_of (bank, units, 1, 1);
  if (units->len == bank->alike->n_units && column)
    g_ptr_array_add (ways, set_in_rows (units, 1, 0, down));
  if (units->len == bank->alike->n_units && row)
    g_ptr_array_add (ways, set_in_rows (units, units->len, pitch_of (bank, units, 1, 0), 0));
  if (units->len == bank->alike->n_units && two_columns && down > FLAT)
    g_ptr_array_add (ways, set_in_rows (units, TWO_COLUMNS, pitch_of (bank, units, 1, 0) + WIRE_UP, pitch_of (bank, units, TWO_COLUMNS, 1) + WIRE_BELOW));
  g_ptr_array_unref (units);
}

static void
forget_composites (const Bank *bank)
{
  MlKit *kit = bank->finder->kit;
  guint i, u, k;

  for (i = kit->composites->len; i-- > 0;)
    {
      const MlPiece *composite = g_ptr_array_index (kit->composites, i);
      gboolean ours = FALSE;
      for (u = 0; u < bank->alike->n_units && !ours; u++)
        ours = is_of_unit (bank, u, composite->members[0]);
      if (ours)
        g_ptr_array_remove_index (kit->composites, i);
    }
  for (u = 0; u < bank->alike->n_units; u++)
    for (k = 0; k < bank->alike->n_pieces; k++)
      bank->finder->used[answer (bank, u, k)] = TRUE;
}

static gboolean
is_wanted (const MlAlike *alike, MlKitCare care)
{
  gboolean rich = alike->n_pieces >= (alike->n_hubs > 1 ? RICH_BETWEEN_BOXES : PART_RICH);

  return alike->n_units <= MOST_UNITS && alike->n_units * alike->n_pieces <= MOST_PARTS
         && alike->n_units >= (rich && care != ML_KIT_NO_PAIRS ? FEWEST_PART_RICH : FEWEST);
}

#define PER_LENGTH 0.4 /* g of the longer side */
#define HIGHER 1.3     /* what a height counts, since sheets lie */
#define IN_BETWEEN 6

/* A long strip bends a sheet to its shape; between units side by side wires must find their way in. */
static void
add_length_cost (MlForm *form, gboolean upright)
{
  int width = form->hull.x1 - form->hull.x0, height = form->hull.y1 - form->hull.y0;

  form->cost += ML_COST (PER_LENGTH * MAX (width, HIGHER * height) + (width > height && !upright ? IN_BETWEEN : 0));
}

static void
add_bank (MlFinder *finder, const MlAlike *alike)
{
  Bank bank = { finder, alike, NULL };
  GPtrArray *models, *ways = g_ptr_array_new_with_free_func ((GDestroyNotify) g_array_unref);
  gboolean upright;
  MlPiece *composite;
  guint i;

  list_pieces (&bank);
  models = models_of (&bank, &upright);
  for (i = 0; i < models->len; i++)
    add_ways (&bank, g_ptr_array_index (models, i), alike->n_pieces > 1 || upright, !upright, ways);
  if (ways->len > 0)
    {
      forget_composites (&bank);
      composite = ml_idiom_add_ways (finder, ways);
      composite->is_bank = TRUE;
      for (i = 0; i < composite->forms->len; i++)
        add_length_cost (g_ptr_array_index (composite->forms, i), upright);
    }
  g_ptr_array_unref (ways);
  g_ptr_array_unref (models);
  g_ptr_array_unref (bank.pieces);
}

void
ml_idiom_find_banks (MlFinder *finder)
{
  GPtrArray *groups = ml_alike_find (finder->kit);
  guint i;

  for (i = 0; i < groups->len; i++)
    if (is_wanted (g_ptr_array_index (groups, i), finder->kit->care))
      add_bank (finder, g_ptr_array_index (groups, i));
  g_ptr_array_unref (groups);
}
