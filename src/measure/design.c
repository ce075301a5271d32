// SPDX-License-Identifier: GPL-3.0-or-later
//
// Designs of generalizability studies. An effect is a set of facets that is closed under nesting
// (Brennan 2001, section 3.2), so a design's effects follow from who is nested in whom.
#include <benchtally/reliability.h>

#include <string.h>

#define DEEPEST 16 // brackets within brackets

typedef struct {
  BtDesign *design;
  const char *text, *at;
  int depth;
  GError **error;
} Reader;

static guint facets_of(Reader *reader);

// Reading ---------------------------------------------------------------------

// Gives 0, so that a reader may return it.
static guint refuse(Reader *reader, const char *what) {
  g_set_error(reader->error, BT_ERROR, BT_ERROR_OPTION,
              "design \"%s\", character %ld: %s; as in \"trainee x assessor\" or "
              "\"trainee x (assessor:task)\"",
              reader->text, g_utf8_pointer_to_offset(reader->text, reader->at) + 1, what);
  return 0;
}

static void skip_blanks(Reader *reader) {
  while (g_unichar_isspace(g_utf8_get_char(reader->at)))
    reader->at = g_utf8_next_char(reader->at);
}

static bool belongs_to_name(gunichar c) {
  return g_unichar_isalnum(c) || c == '-' || c == '_';
}

// The end of the word that begins here; `at` itself when none does.
static const char *end_of_word(const char *at) {
  while (belongs_to_name(g_utf8_get_char(at)))
    at = g_utf8_next_char(at);
  return at;
}

static bool is_crossing(const char *at) {
  return g_utf8_get_char(at) == 0xd7 || (*at == 'x' && end_of_word(at) == at + 1);
}

static guint name_of(Reader *reader) {
  BtDesign *design = reader->design;
  const char *end = end_of_word(reader->at);
  if (end == reader->at)
    return refuse(reader, *reader->at ? "a facet's name should stand here"
                                      : "it ends where a facet's name should stand");
  if (is_crossing(reader->at))
    return refuse(reader, "\"x\" stands for crossing and needs a facet on either side");
  g_autofree char *name = g_strndup(reader->at, (gsize)(end - reader->at));
  for (int i = 0; i < design->facets; i++) {
    if (strcmp(design->name[i], name) == 0)
      return refuse(reader, "this facet stands in the design already");
  }
  if (design->facets == BT_FACETS_MOST)
    return refuse(reader, "a seventh facet; six are the most");
  design->name[design->facets] = g_steal_pointer(&name);
  reader->at = end;
  return 1U << design->facets++;
}

static guint in_brackets(Reader *reader) {
  if (++reader->depth > DEEPEST)
    return refuse(reader, "brackets stand too deep within brackets");
  reader->at++;
  guint facets = facets_of(reader);
  if (!facets)
    return 0;
  if (*reader->at != ')')
    return refuse(reader, "\")\" should stand here");
  reader->at++;
  reader->depth--;
  return facets;
}

// NAME, (DESIGN), or either of them nested in another: "r:t", "i:h:p", "i:(p x o)".
static guint nest_of(Reader *reader) {
  skip_blanks(reader);
  guint inner = *reader->at == '(' ? in_brackets(reader) : name_of(reader);
  if (!inner)
    return 0;
  skip_blanks(reader);
  if (*reader->at != ':')
    return inner;
  reader->at++;
  guint outer = nest_of(reader);
  if (!outer)
    return 0;
  for (int i = 0; i < reader->design->facets; i++) {
    if (inner & 1U << i)
      reader->design->within[i] |= outer;
  }
  return inner | outer;
}

static guint facets_of(Reader *reader) {
  guint facets = 0;
  for (;;) {
    guint more = nest_of(reader);
    if (!more)
      return 0;
    facets |= more;
    if (!is_crossing(reader->at))
      return facets;
    reader->at = g_utf8_next_char(reader->at);
  }
}

// What follows from it --------------------------------------------------------

guint bt_design_closure(const BtDesign *design, guint facets) {
  for (int i = 0; i < design->facets; i++) {
    if (facets & 1U << i)
      facets |= design->within[i];
  }
  return facets;
}

static void list_effects(BtDesign *design) {
  guint all = (1U << design->facets) - 1;
  for (int size = 1; size <= design->facets; size++) {
    for (guint set = 1; set <= all; set++) {
      if (__builtin_popcount(set) == size && bt_design_closure(design, set) == set)
        design->effect[design->effects++] = set;
    }
  }
}

static int object_of(const BtDesign *design) {
  int object = 0;
  while (design->within[object])
    object++;
  return object;
}

BtDesign *bt_design_parse(const char *text, GError **error) {
  if (!g_utf8_validate(text, -1, NULL)) {
    g_set_error_literal(error, BT_ERROR, BT_ERROR_OPTION, "the design is no valid UTF-8 text");
    return NULL;
  }
  g_autoptr(BtDesign) design = g_new0(BtDesign, 1);
  Reader reader = {.design = design, .text = text, .at = text, .error = error};
  if (!facets_of(&reader))
    return NULL;
  if (*reader.at) {
    refuse(&reader, "\"x\" or \":\" should stand between two facets");
    return NULL;
  }
  if (design->facets < 2) {
    g_set_error(error, BT_ERROR, BT_ERROR_OPTION,
                "design \"%s\": two facets are the fewest, as in \"trainee x assessor\"", text);
    return NULL;
  }
  design->object = object_of(design);
  list_effects(design);
  return g_steal_pointer(&design);
}

void bt_design_free(BtDesign *design) {
  if (!design)
    return;
  for (int i = 0; i < design->facets; i++)
    g_free(design->name[i]);
  g_free(design);
}

// Names -----------------------------------------------------------------------

// Those of the set in which no other one of the set is nested.
static guint innermost(const BtDesign *design, guint set) {
  guint outer = 0;
  for (int i = 0; i < design->facets; i++) {
    if (set & 1U << i)
      outer |= design->within[i];
  }
  return set & ~outer;
}

static void put_set(GString *out, const BtDesign *design, guint set);

static void put_facet(GString *out, const BtDesign *design, int facet) {
  g_string_append(out, design->name[facet]);
  guint within = design->within[facet];
  if (!within)
    return;
  bool several = __builtin_popcount(innermost(design, within)) > 1;
  g_string_append(out, several ? ":(" : ":");
  put_set(out, design, within);
  g_string_append(out, several ? ")" : "");
}

static void put_set(GString *out, const BtDesign *design, guint set) {
  guint inner = innermost(design, set);
  bool several = __builtin_popcount(inner) > 1, first = true;
  for (int i = 0; i < design->facets; i++) {
    if (!(inner & 1U << i))
      continue;
    bool bracket = several && design->within[i];
    g_string_append(out, first ? "" : " x ");
    g_string_append(out, bracket ? "(" : "");
    put_facet(out, design, i);
    g_string_append(out, bracket ? ")" : "");
    first = false;
  }
}

char *bt_design_name(const BtDesign *design, guint effect) {
  GString *out = g_string_new(NULL);
  put_set(out, design, effect);
  return g_string_free(out, FALSE);
}
