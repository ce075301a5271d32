// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef BENCHTALLY_REPORT_PAGE_STYLE_H
#define BENCHTALLY_REPORT_PAGE_STYLE_H

// The style sheet of every HTML page that stands alone.
extern const char bt__page_style[];

#endif
