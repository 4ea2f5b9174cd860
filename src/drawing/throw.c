/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/throw.h"

MlThrow
ml_throw_of (const MlBoard *board, int part, const MlCondition *condition, const MlOperatingPoint *point)
{
  const MlSetting *setting = condition != NULL ? ml_condition_setting (condition, part) : NULL;

  if (setting != NULL)
    switch (setting->state)
      {
      case ML_SETTING_CLOSED: case ML_SETTING_B: return ML_THROW_OTHER;
      case ML_SETTING_MIDDLE: return ML_THROW_MIDDLE;
      case ML_SETTING_OPEN: case ML_SETTING_A: case ML_SETTING_POSITION: default: return ML_THROW_REST;
      }
  if (condition == NULL || board->parts[part].kind->kind != ML_KIND_CONTACT)
    return ML_THROW_REST;
  return point != NULL && point->solved && point->pulled != NULL && point->pulled[part] ? ML_THROW_OTHER : ML_THROW_REST;
}

const char *
ml_throw_words (const MlBoard *board, int part, const MlCondition *condition, const MlOperatingPoint *point)
{
  static const char *const of_switch[] = { "open", "closed", "" }, *const of_changeover[] = { "at a", "at b", "in the middle" },
                    *const of_contact[] = { "at rest", "pulled in", "" };
  const MlThrow stands = ml_throw_of (board, part, condition, point);

  switch (board->parts[part].kind->kind)
    {
    case ML_KIND_SWITCH: return of_switch[stands];
    case ML_KIND_CHANGEOVER: return of_changeover[stands];
    case ML_KIND_CONTACT: return of_contact[stands];
    default: return NULL;
    }
}
