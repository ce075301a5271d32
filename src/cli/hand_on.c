// SPDX-License-Identifier: GPL-3.0-or-later
//
// Commands that draw, typeset and compute need libraries that take longer to load than most
// commands take to run, so they live in programs of their own beside this one.
#include <errno.h>
#include <stdio.h>
#include <unistd.h>

#include "cli/cli.h"

int cli_hand_on(const Cli *cli, char **argv) {
  g_autofree char *own = g_file_read_link("/proc/self/exe", NULL);
  g_autofree char *folder = g_path_get_dirname(own ? own : argv[0]);
  g_autofree char *beside = g_build_filename(folder, cli->command->program, NULL);
  g_autofree char *installed =
      g_build_filename(folder, BENCHTALLY_PROGRAMS, cli->command->program, NULL);
  execv(installed, argv);
  execv(beside, argv);
  fprintf(stderr, "benchtally: %s cannot be started: %s; install Benchtally again\n", beside,
          g_strerror(errno));
  return 3;
}
