// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/version.h>
#include <stdio.h>
int main(void) {
  printf("benchtally %s\n", bt_version());
  return 0;
}
