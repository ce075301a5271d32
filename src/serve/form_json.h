// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SERVE_FORM_JSON_H
#define SERVE_FORM_JSON_H

#include <benchtally/model.h>
#include <jansson.h>

// What of a rubric a page needs to record by it. The caller's own.
json_t *bt__form_json(const BtRubric *rubric);

#endif
