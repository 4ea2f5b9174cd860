/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout-sheet.h"

#include <string.h>

#define CORE_ON_ROOM ML_COST (5)
#define CORE_BESIDE_CORE ML_COST (3)
#define ROOM_ON_ROOM ML_COST (2)
#define PINS_TOUCH ML_COST (200)
#define RING_ON_PIN ML_COST (8)
#define MARGIN 12

guint
ml_sheet_random (MlSheet *sheet, guint below)
{
  guint64 x = sheet->random;

  x ^= x << 13;
  x ^= x >> 7;
  x ^= x << 17;
  sheet->random = x;
  return below == 0 ? 0 : (guint) ((x >> 32) % below);
}

MlFormPin
ml_sheet_pin (const MlSheet *sheet, int i, int pin)
{
  const MlSpot *spot = &sheet->spots[i];
  MlFormPin at = spot->form->pins[pin];

  at.x += spot->x;
  at.y += spot->y;
  return at;
}

gboolean
ml_sheet_inside (const MlSheet *sheet, int i)
{
  const MlSpot *spot = &sheet->spots[i];
  const MlCells *hull = &spot->form->hull, *pins = &spot->form->pin_hull;

  return spot->x + MIN (hull->x0, pins->x0) > MARGIN && spot->y + MIN (hull->y0, pins->y0) > MARGIN
         && spot->x + MAX (hull->x1, pins->x1) < sheet->width - MARGIN && spot->y + MAX (hull->y1, pins->y1) < sheet->height - MARGIN;
}

/* ---- boxes ---- */

/* What lies on the cells of a row; as these are most of the time of a layout, nothing is multiplied cell by cell. */
typedef struct { int cores, rooms, wires, pins; } Load;

/* A cell as the eight numbers of 16 bits that it is, so that all are added at once; the last two, which are one number, of no use then and free
 * to wrap round. */
typedef guint16 Lanes __attribute__ ((vector_size (sizeof (MlCell))));
G_STATIC_ASSERT (sizeof (MlCell) == 8 * sizeof (guint16));

enum { ACROSS, DOWN, CORE, ROOM, PINS }; /* as in MlCell */

/* Adds what lies on n cells to load, and then `more` to each of them. */
static inline void
stamp_row (Load *load, MlCell *row, int n, Lanes more)
{
  Lanes sum = { 0 }, lanes;
  int x;

  for (x = 0; x < n; x++)
    {
      memcpy (&lanes, &row[x], sizeof lanes);
      sum += lanes;
      lanes += more;
      memcpy (&row[x], &lanes, sizeof lanes);
    }
  load->cores += (gint16) sum[CORE];
  load->rooms += (gint16) sum[ROOM];
  load->wires += (gint16) sum[ACROSS] + (gint16) sum[DOWN];
  load->pins += (gint16) sum[PINS];
}

static inline int
cores_in_row (const MlCell *row, int n)
{
  int x, cores = 0;

  for (x = 0; x < n; x++)
    cores += row[x].core;
  return cores;
}

/* What a thing put there finds, and what one taken away leaves. */
static int
stamp_core (MlSheet *sheet, const MlCells *core, int dx, int dy, int sign)
{
  const int n = core->x1 - core->x0 + 1, n_rows = core->y1 - core->y0 + 1;
  MlCell *row = ml_sheet_cell (sheet, core->x0 + dx, core->y0 + dy);
  int beside = cores_in_row (row - sheet->width - 1, n + 2), y;
  const Lanes more = { 0, 0, (guint16) sign };
  Load load = { 0 };

  for (y = 0; y < n_rows; y++, row += sheet->width)
    {
      beside += row[-1].core + row[n].core;
      stamp_row (&load, row, n, more);
    }
  beside += cores_in_row (row - 1, n + 2);
  if (sign < 0)
    load.cores -= n * n_rows;
  return CORE_BESIDE_CORE * beside + sheet->core_on_core * load.cores + CORE_ON_ROOM * load.rooms + ML_CORE_ON_WIRE * load.wires + PINS_TOUCH * load.pins;
}

static int
stamp_room (MlSheet *sheet, const MlCells *room, int dx, int dy, int sign)
{
  const int n = room->x1 - room->x0 + 1, n_rows = room->y1 - room->y0 + 1;
  MlCell *row = ml_sheet_cell (sheet, room->x0 + dx, room->y0 + dy);
  const Lanes more = { 0, 0, 0, (guint16) sign };
  Load load = { 0 };
  int y;

  for (y = 0; y < n_rows; y++, row += sheet->width)
    stamp_row (&load, row, n, more);
  if (sign < 0)
    load.rooms -= n * n_rows;
  return CORE_ON_ROOM * load.cores + ROOM_ON_ROOM * load.rooms + ML_ROOM_ON_WIRE * load.wires;
}

static int
stamp_pins (MlSheet *sheet, const MlSpot *spot, int sign)
{
  int cost = 0;
  guint i;

  for (i = 0; i < spot->piece->n_pins; i++)
    {
      MlCell *cell = ml_sheet_cell (sheet, spot->form->pins[i].x + spot->x, spot->form->pins[i].y + spot->y);
      int mark = spot->piece->pins[i].net < 0 ? 100003 + (int) i : spot->piece->pins[i].net + 1;
      if (sign < 0)
        {
          cell->pins--;
          cell->pin_sum -= mark;
        }
      if (cell->pins > 0 && cell->pin_sum != cell->pins * mark)
        cost += PINS_TOUCH;
      else if (cell->pins > 0 && spot->piece->kind == ML_PIECE_TERMINAL)
        cost += RING_ON_PIN;
      cost += PINS_TOUCH * cell->core;
      if (sign > 0)
        {
          cell->pins++;
          cell->pin_sum += mark;
        }
    }
  return cost;
}

int
ml_sheet_box_at_least (const MlSheet *sheet, int i, int enough)
{
  const MlSpot *spot = &sheet->spots[i];
  int cost = 0, y;
  guint k;

  for (k = 0; k < spot->form->n_cores; k++)
    {
      const MlCells *core = &spot->form->cores[k];
      for (y = core->y0; y <= core->y1 && cost < enough; y++)
        cost += sheet->core_on_core * cores_in_row (&sheet->cells[(gsize) (y + spot->y) * (gsize) sheet->width + (gsize) (core->x0 + spot->x)], core->x1 - core->x0 + 1);
    }
  return cost;
}

int
ml_sheet_box (MlSheet *sheet, int i, int sign)
{
  const MlSpot *spot = &sheet->spots[i];
  int cost = 0;
  guint k;

  for (k = 0; k < spot->form->n_cores; k++)
    cost += stamp_core (sheet, &spot->form->cores[k], spot->x, spot->y, sign);
  for (k = 0; k < spot->form->n_rooms; k++)
    cost += stamp_room (sheet, &spot->form->rooms[k], spot->x, spot->y, sign);
  return cost + stamp_pins (sheet, spot, sign);
}

/* ---- what a place costs by itself ---- */

static gboolean
is_capacitor (const MlSpot *spot)
{
  return spot->piece->kind == ML_PIECE_PART && spot->piece->part_kind == ML_KIND_CAPACITOR;
}

static int
free_gap (int a0, int a1, int b0, int b1)
{
  return MAX (MAX (a0 - b1, b0 - a1), 0);
}

#define BELOW_ITS_CHIP 0.7 /* per g: it stands at the pin that it guards, which is on top */
#define MOST_BELOW 14 /* g */

static int
tie_cost (const MlSpot *a, const MlSpot *b)
{
  const MlCells *ha = &a->form->pin_hull, *hb = &b->form->pin_hull;
  int gx = free_gap (a->x + ha->x0, a->x + ha->x1, b->x + hb->x0, b->x + hb->x1);
  int gy = free_gap (a->y + ha->y0, a->y + ha->y1, b->y + hb->y0, b->y + hb->y1);
  int gap = MAX (0, gx - 3) + MAX (0, gy - 2), below = a->y + ha->y0 - b->y - hb->y0, cost = 0;

  if ((is_capacitor (a) && b->piece->is_box) || (a->piece->is_box && is_capacitor (b)))
    cost = ML_COST (BELOW_ITS_CHIP) * CLAMP (is_capacitor (a) ? below : -below, 0, MOST_BELOW);
  return cost + (gap < 12 ? ML_COST (1) * gap : ML_COST (12) + ML_COST (0.4) * (gap - 12));
}

static int
left_of_supply (const MlSheet *sheet, const MlSpot *supply, const MlSpot *spot)
{
  int left = supply->x + supply->form->hull.x0 - (spot->x + spot->form->pin_hull.x0);
  int above = supply->y - 4 - (spot->y + spot->form->pin_hull.y0);

  return ML_COST (1.6) * CLAMP (left, 0, 40) + sheet->above_weight * CLAMP (above, 0, 40);
}

static int
supply_cost (const MlSheet *sheet, int i)
{
  const MlSpot *supply;
  int cost = 0;
  guint k;

  if (sheet->supply_spot < 0 || !sheet->spots[sheet->supply_spot].on)
    return 0;
  supply = &sheet->spots[sheet->supply_spot];
  if (i != sheet->supply_spot)
    return left_of_supply (sheet, supply, &sheet->spots[i]);
  for (k = 0; k < sheet->n; k++)
    if ((int) k != i && sheet->spots[k].on)
      cost += left_of_supply (sheet, supply, &sheet->spots[k]);
  return cost;
}

#define BEHIND 6 /* a part beyond a connector, where its cable leaves the sheet */
#define MOST_BEHIND 4 /* parts of one piece that count */
#define BEHIND_ROWS 2 /* g above and below the box */

/* One stands where the other's cable leaves. */
static gboolean
is_behind (const MlSpot *connector, const MlSpot *spot)
{
  const MlCells *box = &connector->form->pin_hull, *hull = &spot->form->pin_hull;

  if (spot->y + hull->y1 < connector->y + box->y0 - BEHIND_ROWS || spot->y + hull->y0 > connector->y + box->y1 + BEHIND_ROWS)
    return FALSE;
  return connector->piece->pull > 0 ? spot->x + hull->x1 <= connector->x + box->x0 : spot->x + hull->x0 >= connector->x + box->x1;
}

static int
behind_cost (const MlSpot *spot)
{
  return ML_COST (BEHIND) * (int) CLAMP (spot->piece->n_members, 1, MOST_BEHIND);
}

/* Cables leave at the sheet's edges: inputs left, outputs right. */
static int
cables_cost (const MlSheet *sheet, int i)
{
  const MlSpot *spot = &sheet->spots[i];
  gboolean is_connector = FALSE;
  int cost = 0;
  guint k;

  for (k = 0; k < sheet->connectors->len; k++)
    {
      int other = g_array_index (sheet->connectors, int, k);
      is_connector |= other == i;
      if (other != i && sheet->spots[other].on && is_behind (&sheet->spots[other], spot))
        cost += behind_cost (spot);
    }
  for (k = 0; k < sheet->n && is_connector; k++)
    if ((int) k != i && sheet->spots[k].on && is_behind (spot, &sheet->spots[k]))
      cost += behind_cost (&sheet->spots[k]);
  return cost;
}

#define FAN_MISSING 3 /* per g and wire */
#define FAN_BESIDE 3    /* g beside the wires, half of which go up, half down */
#define FAN_MOST 160

/* Wires that fan out from a chip to a bank beside it want a column each. */
static int
fan_cost (const MlSpot *a, const MlSpot *b, int n_wires)
{
  const MlCells *ha = &a->form->pin_hull, *hb = &b->form->pin_hull;
  int gx = free_gap (a->x + ha->x0, a->x + ha->x1, b->x + hb->x0, b->x + hb->x1);
  int gy = free_gap (a->y + ha->y0, a->y + ha->y1, b->y + hb->y0, b->y + hb->y1);

  return MIN (ML_COST (FAN_MISSING) * n_wires * MAX (0, (n_wires + 1) / 2 + FAN_BESIDE - MAX (gx, gy)), ML_COST (FAN_MOST));
}

#define NOT_ALIKE 15
#define CROWDED 3 /* a terminal so near its part that its ring lies on the joint */
#define LEAST_LEAD 2 /* g */

/* Terminals at parts alike stand alike. */
static int
terminal_cost (const MlSheet *sheet, const MlSpot *spot)
{
  MlFormPin end, other_end;
  int cost;
  guint k;

  if (!sheet->spots[spot->end_of.piece].on)
    return 0;
  end = ml_sheet_pin (sheet, spot->end_of.piece, spot->end_of.pin);
  cost = ABS (spot->form->pins[0].side & 1 ? spot->y - end.y : spot->x - end.x) < LEAST_LEAD ? ML_COST (CROWDED) : 0;
  for (k = 0; k < spot->like->len; k++)
    {
      const MlSpot *other = &sheet->spots[g_array_index (spot->like, int, k)];
      if (!other->on || !sheet->spots[other->end_of.piece].on)
        continue;
      other_end = ml_sheet_pin (sheet, other->end_of.piece, other->end_of.pin);
      return other->form->pins[0].side == spot->form->pins[0].side && other->x - other_end.x == spot->x - end.x
                     && other->y - other_end.y == spot->y - end.y
                 ? cost
                 : cost + ML_COST (NOT_ALIKE);
    }
  return cost;
}

int
ml_sheet_ties_cost (const MlSheet *sheet, int i)
{
  const MlSpot *spot = &sheet->spots[i];
  int cost = 0;
  guint k;

  for (k = 0; k < spot->ties->len; k++)
    {
      const MlSpot *chip = &sheet->spots[g_array_index (spot->ties, int, k)];
      if (chip->on)
        cost += tie_cost (spot, chip);
    }
  return cost;
}

int
ml_sheet_own_cost_at_least (const MlSheet *sheet, int i, int dx, int dy)
{
  const MlSpot *spot = &sheet->spots[i];

  return spot->form->cost + spot->pull_x * (spot->x + dx) + spot->pull_y * (spot->y + dy);
}

int
ml_sheet_own_cost (MlSheet *sheet, int i)
{
  const MlSpot *spot = &sheet->spots[i];
  int cost = ml_sheet_own_cost_at_least (sheet, i, 0, 0) + (ML_COST (7) * ABS (spot->x - spot->wanted_x)) / 100;
  guint k;

  for (k = 0; k < spot->flows->len; k++)
    {
      MlFlowTo to = g_array_index (spot->flows, MlFlowTo, k);
      int gap;
      if (!sheet->spots[to.piece].on)
        continue;
      gap = (sheet->spots[to.piece].x - spot->x) * to.sign;
      if (gap < 6)
        cost += ML_COST (0.5) * MIN (6 - gap, 30);
    }
  for (k = 0; k < spot->mates->len; k++)
    {
      MlFlowTo to = g_array_index (spot->mates, MlFlowTo, k);
      const MlSpot *mate = &sheet->spots[to.piece];
      if (mate->on && (to.sign ? mate->y + mate->form->pin_hull.y0 != spot->y + spot->form->pin_hull.y0 : mate->x != spot->x))
        cost += ML_COST (7);
    }
  cost += ml_sheet_ties_cost (sheet, i);
  for (k = 0; k < spot->fans->len; k++)
    {
      MlFlowTo to = g_array_index (spot->fans, MlFlowTo, k);
      if (sheet->spots[to.piece].on)
        cost += fan_cost (spot, &sheet->spots[to.piece], to.sign);
    }
  if (spot->like->len > 0)
    cost += terminal_cost (sheet, spot);
  return cost + supply_cost (sheet, i) + cables_cost (sheet, i);
}

double
ml_sheet_look (const MlSheet *sheet)
{
  gint64 cost = sheet->supply_spot < 0 ? 0 : supply_cost (sheet, sheet->supply_spot);
  guint i, k;

  for (i = 0; i < sheet->n; i++)
    {
      const MlSpot *spot = &sheet->spots[i];
      cost += spot->form->cost;
      for (k = 0; k < sheet->connectors->len; k++)
        if (g_array_index (sheet->connectors, int, k) != (int) i && is_behind (&sheet->spots[g_array_index (sheet->connectors, int, k)], spot))
          cost += behind_cost (spot);
      for (k = 0; k < spot->ties->len; k++)
        if (g_array_index (spot->ties, int, k) > (int) i)
          cost += tie_cost (spot, &sheet->spots[g_array_index (spot->ties, int, k)]) / 2;
    }
  return (double) cost / 20 / MAX (sheet->circuit->n_parts, 1);
}

int
ml_sheet_shape_cost (const MlCells *hull)
{
  int w = hull->x1 - hull->x0 + 1, h = hull->y1 - hull->y0 + 1;

  return ML_COST (0.5) * (w + h) + ML_COST (0.9) * MAX (0, 4 * h - 3 * w) / 4 + ML_COST (0.3) * MAX (0, 10 * w - 21 * h) / 10;
}

MlCells
ml_sheet_hull (const MlSheet *sheet, int without)
{
  MlCells hull = { G_MAXINT, G_MAXINT, G_MININT, G_MININT };
  guint i;

  for (i = 0; i < sheet->n; i++)
    {
      const MlSpot *spot = &sheet->spots[i];
      if (!spot->on || (int) i == without)
        continue;
      hull.x0 = MIN (hull.x0, spot->x + spot->form->hull.x0);
      hull.y0 = MIN (hull.y0, spot->y + spot->form->hull.y0);
      hull.x1 = MAX (hull.x1, spot->x + spot->form->hull.x1);
      hull.y1 = MAX (hull.y1, spot->y + spot->form->hull.y1);
    }
  return hull;
}

MlCells
ml_sheet_hull_with (const MlSheet *sheet, const MlCells *others, int i)
{
  const MlSpot *spot = &sheet->spots[i];
  const MlCells *own = &spot->form->hull;

  return (MlCells){ MIN (others->x0, spot->x + own->x0), MIN (others->y0, spot->y + own->y0), MAX (others->x1, spot->x + own->x1),
                    MAX (others->y1, spot->y + own->y1) };
}

/* ---- putting and lifting ---- */

int
ml_sheet_put (MlSheet *sheet, int i)
{
  MlSpot *spot = &sheet->spots[i];
  int cost;
  guint k;

  spot->on = TRUE;
  cost = ml_sheet_box (sheet, i, 1);
  for (k = 0; k < spot->n_nets; k++)
    {
      ml_sheet_estimate (sheet, spot->nets[k]);
      cost += sheet->nets[spot->nets[k]].now.cost + ml_sheet_wire (sheet, &sheet->nets[spot->nets[k]].now, 1);
    }
  return cost + ml_sheet_own_cost (sheet, i);
}

int
ml_sheet_lift (MlSheet *sheet, int i)
{
  MlSpot *spot = &sheet->spots[i];
  int cost = ml_sheet_own_cost (sheet, i);
  guint k;

  for (k = 0; k < spot->n_nets; k++)
    cost += sheet->nets[spot->nets[k]].now.cost + ml_sheet_wire (sheet, &sheet->nets[spot->nets[k]].now, -1);
  cost += ml_sheet_box (sheet, i, -1);
  spot->on = FALSE;
  return cost;
}

void
ml_sheet_put_all (MlSheet *sheet)
{
  guint i;

  memset (sheet->cells, 0, sizeof *sheet->cells * (gsize) sheet->width * (gsize) sheet->height);
  for (i = 0; i < sheet->n; i++)
    if (sheet->spots[i].on)
      ml_sheet_box (sheet, (int) i, 1);
  for (i = 0; i < sheet->n_nets; i++)
    {
      ml_sheet_estimate (sheet, (int) i);
      ml_sheet_wire (sheet, &sheet->nets[i].now, 1);
    }
}
