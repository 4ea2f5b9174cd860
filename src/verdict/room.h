/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An MlNodalRoom as the rest of this folder asks for memory: without any the program ends, as with g_malloc. */
#pragma once

#include <glib.h>

#include "nodal/nodal.h"

G_BEGIN_DECLS

/** ml_room_at: the room that stands there, made when there is none as yet. */
static inline MlNodalRoom *
ml_room_at (MlNodalRoom **room)
{
  if (!*room && !(*room = ml_nodal_room_new ()))
    g_error ("out of memory");
  return *room;
}

/** ml_room_take: as ml_nodal_room_take, never NULL. */
static inline gpointer
ml_room_take (MlNodalRoom *room, gsize bytes)
{
  gpointer taken = ml_nodal_room_take (room, bytes);

  if (!taken)
    g_error ("out of memory");
  return taken;
}

G_END_DECLS
