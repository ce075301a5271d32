// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef BENCHTALLY_EXPORT_H
#define BENCHTALLY_EXPORT_H
// Symbols of the shared library are hidden unless marked BT_API.
#define BT_API __attribute__((visibility("default")))
// A result that must be looked at.
#define BT_MUST_USE __attribute__((warn_unused_result))
#endif
