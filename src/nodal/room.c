/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Memory for very many small things that come one by one and go all at once. A dictionary of faults holds some ten thousand solutions; asked for singly,
 * a quarter of the time that it takes to solve them went into the allocator and into the first touch of each page. */
#include "nodal/nodal.h"

#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>

#define FIRST_SLAB ((size_t) 64 << 10)  /* a small board needs no more */
#define LARGEST_SLAB ((size_t) 8 << 20)
#define LARGE_PAGE ((size_t) 2 << 20)   /* slabs from here on are of such, where the system has them: the first touch of a small page takes longer than filling it */
#define ALIGNMENT 64

typedef struct Slab Slab;
struct Slab
{
  Slab *before;
  size_t bytes;
  bool mapped;
};

struct MlNodalRoom
{
  Slab *last;
  size_t used; /* of the last slab, its head included */
};

MlNodalRoom *
ml_nodal_room_new (void)
{
  return calloc (1, sizeof (MlNodalRoom));
}

void
ml_nodal_room_free (MlNodalRoom *room)
{
  for (Slab *slab = room ? room->last : NULL, *before; slab; slab = before)
    {
      before = slab->before;
      if (slab->mapped)
        munmap (slab, slab->bytes);
      else
        free (slab);
    }
  free (room);
}

/* All 0; a multiple of a large page, beginning at one. NULL: not to be had. */
static Slab *
map (size_t bytes)
{
  size_t more = bytes + LARGE_PAGE, ahead;
  char *at = mmap (NULL, more, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);

  if (at == MAP_FAILED)
    return NULL;
  ahead = (LARGE_PAGE - (uintptr_t) at % LARGE_PAGE) % LARGE_PAGE;
  if (ahead)
    munmap (at, ahead);
  if (more - ahead > bytes)
    munmap (at + ahead + bytes, more - ahead - bytes);
#ifdef MADV_HUGEPAGE
  madvise (at + ahead, bytes, MADV_HUGEPAGE); /* a wish; without it pages are small */
#endif
  return (Slab *) (void *) (at + ahead);
}

static bool
add_slab (MlNodalRoom *room, size_t least)
{
  size_t bytes = !room->last ? FIRST_SLAB : room->last->bytes < LARGEST_SLAB ? 2 * room->last->bytes : LARGEST_SLAB;
  Slab *slab;

  while (bytes < least + ALIGNMENT)
    bytes *= 2;
  bool mapped = bytes >= LARGE_PAGE;
  slab = mapped ? map (bytes) : calloc (1, bytes);
  if (!slab)
    return false;
  *slab = (Slab){ room->last, bytes, mapped };
  room->last = slab;
  room->used = ALIGNMENT;
  return true;
}

void *
ml_nodal_room_take (MlNodalRoom *room, size_t bytes)
{
  bytes = (bytes + ALIGNMENT - 1) / ALIGNMENT * ALIGNMENT;
  if ((!room->last || room->last->bytes - room->used < bytes) && !add_slab (room, bytes))
    return NULL;
  room->used += bytes;
  return (char *) room->last + room->used - bytes;
}
