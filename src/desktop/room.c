/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/room.h"

#include <math.h>

#define MUST_COUNTS 1000.0
#define LEAST_SHARE 0.25 /* neither view gets less of the room: it is looked at, and taken hold of */
#define LARGER_COUNTS 0.1
#define SHARE_STEPS 40

/* ---- beside what is worked on ---- */

double
ml_room_covered (const GdkRectangle *box, const MlBusy *busy, guint n)
{
  double sum = 0.0;

  for (guint i = 0; i < n; i++)
    {
      GdkRectangle common;
      if (gdk_rectangle_intersect (box, &busy[i].at, &common))
        sum += (busy[i].must ? MUST_COUNTS : 1.0) * common.width * common.height;
    }
  return sum;
}

static int
at_of (int where, int room, int size, int margin)
{
  int last = MAX (room - size - margin, 0), first = MIN (margin, last);

  return where < 0 ? first : where > 0 ? last : (first + last) / 2;
}

GdkRectangle
ml_room_beside (int room_width, int room_height, int width, int height, int margin, gboolean above, const MlBusy *busy, guint n)
{
  static const struct { int x, y; } ways[] = { { 0, 1 }, { 0, -1 }, { -1, 1 }, { 1, 1 }, { -1, -1 }, { 1, -1 }, { -1, 0 }, { 1, 0 } };
  GdkRectangle best = { 0 };
  double least = INFINITY;

  width = MIN (width, room_width);
  height = MIN (height, room_height);
  for (guint i = 0; i < G_N_ELEMENTS (ways); i++)
    {
      GdkRectangle box = { at_of (ways[i].x, room_width, width, margin), at_of (above ? -ways[i].y : ways[i].y, room_height, height, margin), width, height };
      double covered = ml_room_covered (&box, busy, n);

      if (covered >= least)
        continue;
      least = covered;
      best = box;
    }
  return best;
}

/* ---- two views ---- */

/* The area of a picture of that shape, as large as the room takes it. */
static double
shown_px (double width_per_height, double room_width, double room_height)
{
  double height = MIN (room_height, room_width / width_per_height);

  return width_per_height * height * height;
}

/* How good it is that the first one has that share of one side of the room: as the smaller one is shown, and a little as the larger one is. */
static double
worth (double first, double second, double width, double height, double share, gboolean stacked)
{
  double rest = 1.0 - share;
  double a = stacked ? shown_px (first, width, share * height) : shown_px (first, share * width, height);
  double b = stacked ? shown_px (second, width, rest * height) : shown_px (second, rest * width, height);

  return MIN (a, b) + LARGER_COUNTS * MAX (a, b);
}

int
ml_room_share (double first, double second, int room_width, int room_height, gboolean *ret_stacked)
{
  double best = -1.0, best_share = 0.5;

  *ret_stacked = FALSE;
  for (int stacked = FALSE; stacked <= TRUE; stacked++)
    for (int i = 0; i <= SHARE_STEPS; i++)
      {
        /* from the middle outwards: of shares that do as well, the more even one */
        double share = 0.5 + (i % 2 == 0 ? 1.0 : -1.0) * ((i + 1) / 2) * (1.0 - 2.0 * LEAST_SHARE) / SHARE_STEPS;
        double now = worth (first, second, room_width, room_height, share, stacked);

        if (now <= best * 1.001)
          continue;
        best = now;
        best_share = share;
        *ret_stacked = stacked;
      }
  return (int) (best_share * (*ret_stacked ? room_height : room_width));
}
