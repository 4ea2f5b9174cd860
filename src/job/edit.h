/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Edits of a job, as board/edit.h does for boards: a new text, untouched lines shared. Errors: NULL with ML_EDIT_ERROR. */
#pragma once

#include "board/edit.h"
#include "job/job.h"

G_BEGIN_DECLS

/** ml_job_edit_add_reading: typed is kept digit for digit ("2.91", "270m", "1.8..2.1", "OL"); across (part or -1) is written where it says the same in fewer words. */
MlText *ml_job_edit_add_reading (const MlJob *job, int unit, guint pass, int condition, MlReads reads, const MlProbe *red,
                                 const MlProbe *black, const char *typed, GError **error);
MlText *ml_job_edit_add_supply_reading (const MlJob *job, int unit, guint pass, int condition, int supply, const char *amps,
                                        const char *volts, GError **error);
MlText *ml_job_edit_add_observation (const MlJob *job, int unit, guint pass, int condition, int part, int supply, const char *what,
                                     GError **error);
MlText *ml_job_edit_add_unit (const MlJob *job, const char *name, MlUnitState state, const char *symptom, GError **error);
MlText *ml_job_edit_set_unit_state (const MlJob *job, int unit, MlUnitState state, GError **error);
/** ml_job_edit_set_unit: the unit is called so from now on wherever the job speaks of it, and that is its symptom or note (NULL, "": none). */
MlText *ml_job_edit_set_unit (const MlJob *job, int unit, const char *name, const char *symptom, GError **error);
MlText *ml_job_edit_add_pass (const MlJob *job, int unit, const char *text, GError **error);
MlText *ml_job_edit_add_log (const MlJob *job, const char *when, int unit, const char *what, const char *subject, const char *text,
                             GError **error);
MlText *ml_job_edit_set_title (const MlJob *job, const char *title, GError **error);
MlText *ml_job_edit_set_board_file (const MlJob *job, const char *file, GError **error);
/* What an edit took out of a job. */
typedef struct { guint n_readings, n_observations, n_others; } MlDropped;
/** ml_job_edit_drop_unfit: without the statements that can be read beside the job's board but not beside `after`; counted in *ret_dropped. */
MlText *ml_job_edit_drop_unfit (const MlJob *job, MlBoard *after, MlDropped *ret_dropped);
/** ml_job_edit_drop_supply: without what was read and seen of a supply that is gone in `after`; the others of that condition (an index of the job's
 * board) are called as they are called there: those without a name have moved up. */
MlText *ml_job_edit_drop_supply (const MlJob *job, int condition, int supply, const MlBoard *after, MlDropped *ret_dropped);
/** ml_job_edit_drop_reading: without that reading and those that it replaced. */
MlText *ml_job_edit_drop_reading (const MlJob *job, int reading, MlDropped *ret_dropped);
/** ml_job_edit_drop_unit: without the unit and what was read, seen, done and written of it. */
MlText *ml_job_edit_drop_unit (const MlJob *job, int unit, MlDropped *ret_dropped);
/** ml_job_edit_drop_seen: without what was seen of that part in that condition of the unit and pass. */
MlText *ml_job_edit_drop_seen (const MlJob *job, int unit, guint pass, int condition, int part, MlDropped *ret_dropped);
/** ml_job_edit_rename: names of the board changed; what: "part", "net", "condition". Keeps the job's readings pointing at the same things. */
MlText *ml_job_edit_rename (const MlJob *job, const char *what, const char *from, const char *to, GError **error);
/** ml_job_edit_rename_pin: a pin of that part changed its name on the board. */
MlText *ml_job_edit_rename_pin (const MlJob *job, const char *part, const char *from, const char *to, GError **error);
/** ml_job_edit_keep_reference: the board's reference is about to move: readings taken against it name it (black=NET), and stay where they were taken. */
MlText *ml_job_edit_keep_reference (const MlJob *job);
/** ml_job_edit_set_polarity: that capacitor of its board (as it was) gets ml_board_edit_set_polarity: readings stay at the legs where they were taken. */
MlText *ml_job_edit_set_polarity (const MlJob *job, int part, int plus_pin);

G_END_DECLS
