/* SPDX-License-Identifier: GPL-3.0-or-later */
/* For this folder only: building the circuits of a model. */
#pragma once

#include "verdict/model.h"

G_BEGIN_DECLS

/* What is needed while the circuits are built, all of them device by device. */
typedef struct
{
  MlModel *model;
  const MlVariant *variant;
  GArray *unknowns; /* MlUnknown */
  int n_devices;    /* so far, in every condition */
} MlBuilder;

/** ml_builder_net_at: the engine's net at a part's pin in one condition, -1 when the pin is open there. */
int ml_builder_net_at (const MlBuilder *builder, int condition, int part, int pin);
/** ml_builder_note_status: the first error of the engine stays; device: an index, or a status below 0. */
void ml_builder_note_status (MlModelCondition *own, int device);
/** ml_builder_set_parameter: by name, where the type has it; parameters[ml_nodal_type_n_parameters (type)]. */
void ml_builder_set_parameter (const MlNodalType *type, double *parameters, const char *name, double value);

/** ml_builder_add_part: to all conditions, with its unknowns and free average currents. */
void ml_builder_add_part (MlBuilder *builder, int index);
/** ml_builder_add_free_current: a block's or part's, from one net of each condition to another. */
void ml_builder_add_free_current (MlBuilder *builder, int part, const MlChoppedPath *path, const int *from, const int *to);
/** ml_builder_add_free_currents: all of a part that is one device. */
void ml_builder_add_free_currents (MlBuilder *builder, int part);
/** ml_builder_add_supplies, …_loads_and_links, …_leaks: of condition c, after all parts. */
void ml_builder_add_supplies (MlBuilder *builder, int c);
void ml_builder_add_loads_and_links (MlBuilder *builder, int c);
void ml_builder_add_leaks (MlBuilder *builder, int c);
/** ml_builder_list_states: which conditions may be switching together; after the unknowns are known. */
void ml_builder_list_states (MlModel *model);
/** ml_builder_find_free_centres: A, of the free average currents; once the circuits are finished. */
void ml_builder_find_free_centres (MlModel *model);

G_END_DECLS
