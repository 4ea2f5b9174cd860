/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/application.h"

int
main (int argc, char **argv)
{
  g_autoptr (MlApplication) application = ml_application_new ();

  g_set_application_name ("Meterleaf");
  return g_application_run (G_APPLICATION (application), argc, argv);
}
