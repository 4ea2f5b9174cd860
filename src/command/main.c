/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "command/command.h"

int
main (int argc, char **argv)
{
  return ml_command_main (argc, argv);
}
