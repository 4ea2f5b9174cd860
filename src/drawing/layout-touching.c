/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/groups.h"
#include "drawing/layout-plan.h"

typedef struct { int net, x, y; guint node; } Contact;

static int
by_place (gconstpointer a, gconstpointer b)
{
  const Contact *p = a, *q = b;

  if (p->net != q->net)
    return p->net < q->net ? -1 : 1;
  if (p->x != q->x)
    return p->x < q->x ? -1 : 1;
  if (p->y != q->y)
    return p->y < q->y ? -1 : 1;
  return p->node < q->node ? -1 : p->node > q->node;
}

static void
add_contact (GArray *contacts, int net, int x, int y, guint node)
{
  Contact contact = { net, x, y, node };

  g_array_append_val (contacts, contact);
}

static GArray *
contacts_of (const MlLayoutPlan *plan, guint per_wire)
{
  GArray *contacts = g_array_new (FALSE, FALSE, sizeof (Contact));
  const guint first_wire = plan->sheet->n, first_flag = first_wire + per_wire * plan->wires->len, first_dot = first_flag + plan->flags->len;

  for (guint i = 0; i < plan->sheet->n; i++)
    for (guint k = 0; k < plan->sheet->spots[i].piece->n_pins; k++)
      if (plan->sheet->spots[i].piece->pins[k].net >= 0)
        {
          MlFormPin at = ml_sheet_pin (plan->sheet, (int) i, (int) k);
          add_contact (contacts, plan->sheet->spots[i].piece->pins[k].net, at.x, at.y, i);
        }
  for (guint i = 0; i < plan->wires->len; i++)
    {
      const MlPlanWire *wire = &g_array_index (plan->wires, MlPlanWire, i);
      add_contact (contacts, wire->net, wire->x0, wire->y0, first_wire + per_wire * i);
      add_contact (contacts, wire->net, wire->x1, wire->y1, first_wire + per_wire * i + per_wire - 1);
    }
  for (guint i = 0; i < plan->flags->len; i++)
    {
      const MlPlanFlag *flag = &g_array_index (plan->flags, MlPlanFlag, i);
      add_contact (contacts, flag->net, flag->x, flag->y, first_flag + i);
    }
  for (guint i = 0; i < plan->dots->len; i++)
    {
      const MlPlanDot *dot = &g_array_index (plan->dots, MlPlanDot, i);
      add_contact (contacts, dot->net, dot->x, dot->y, first_dot + i);
    }
  g_array_sort (contacts, by_place);
  return contacts;
}

void
ml_layout_plan_join_touching (const MlLayoutPlan *plan, guint per_wire, guint *parent)
{
  GArray *contacts = contacts_of (plan, per_wire);

  for (guint i = 1; i < contacts->len; i++)
    {
      const Contact *a = &g_array_index (contacts, Contact, i - 1), *b = &g_array_index (contacts, Contact, i);
      if (a->net == b->net && a->x == b->x && a->y == b->y)
        ml_group_join (parent, a->node, b->node);
    }
  g_array_unref (contacts);
}
