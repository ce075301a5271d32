// SPDX-License-Identifier: GPL-3.0-or-later
#include "rubric/yaml_syntax.h"

#include "rubric/yaml_tree.h"

#include <string.h>

BtPlace bt__place(yaml_mark_t mark) {
  return (BtPlace){(int)mark.line + 1, (int)mark.column + 1};
}

typedef struct {
  const char *problem; // what libyaml says begins so
  const char *wrong, *expected;
} Words;

static const Words words[] = {
    {"mapping values are not allowed", "a second \": \" on one line",
     "put quotes around a text that holds \": \", or begin a new line"},
    {"mapping keys are not allowed", "a key cannot stand here", "check the indentation"},
    {"block sequence entries are not allowed", "a list cannot begin here",
     "begin it on a new line, with \"- \" before each item"},
    {"could not find expected ':'", "a line without \":\"",
     "expected \"key: value\"; a text that goes on is indented deeper than its key"},
    {"did not find expected key", "this does not line up with what stands above it",
     "expected a key indented like its neighbours"},
    {"did not find expected '-' indicator", "this does not line up with the list above it",
     "expected \"- \" indented like the other items"},
    {"did not find expected ',' or ']'", "a list in [ ] is not closed or lacks a comma",
     "expected \",\" or \"]\""},
    {"did not find expected ',' or '}'", "a mapping in { } is not closed or lacks a comma",
     "expected \",\" or \"}\""},
    {"did not find expected node content", "a value is missing",
     "expected a text, a list or a mapping"},
    {"did not find expected <document start>", "the file goes on after its end",
     "expected nothing more; one rubric a file"},
    {"found character that cannot start any token", "a text cannot begin with this character",
     "put quotes around the text"},
    {"found unknown escape character", "an unknown escape in double quotes",
     "write \\\\ for a backslash, or use single quotes"},
    {"found unexpected end of stream", "the file ends too early", "check quotes and brackets"},
};

static const char *line_start(const char *text, const char *end, int line) {
  const char *p = text;
  for (int i = 1; i < line && p < end; p++) {
    if (*p == '\n' || (*p == '\r' && (p + 1 == end || p[1] != '\n')))
      i++;
  }
  return p;
}

// True, with its place, when there is a tab in the indentation of the line.
static bool indented_by_tab(const char *line, const char *end, BtPlace *at) {
  for (const char *p = line; p < end && (*p == ' ' || *p == '\t'); p++) {
    if (*p == '\t') {
      at->column = (int)(p - line) + 1;
      return true;
    }
  }
  return false;
}

static bool has_curly_quote(const char *line, const char *end) {
  for (const char *p = line; p < end && *p != '\n' && *p != '\r'; p = g_utf8_next_char(p)) {
    if (bt__curly(p))
      return true;
  }
  return false;
}

static bool quote_not_closed(const yaml_parser_t *parser) {
  return parser->context && strstr(parser->context, "while scanning a quoted scalar") &&
         parser->problem && g_str_has_prefix(parser->problem, "found unexpected");
}

static void say_quote(BtReport *report, BtPlace at) {
  bt__fault(report, at, "close it on the line where the text ends",
            "the quote that begins here is not closed");
}

// A bracket that is not closed shows lines later; what must be mended is where it opens.
static bool bracket_not_closed(const yaml_parser_t *parser, BtPlace at) {
  return parser->context && g_str_has_prefix(parser->context, "while parsing a flow ") &&
         bt__place(parser->context_mark).line != at.line;
}

static void say_bracket(BtReport *report, const yaml_parser_t *parser, BtPlace at) {
  bool list = strstr(parser->context, "sequence") != NULL;
  bt__fault(report, bt__place(parser->context_mark),
            list ? "expected \",\" or \"]\"" : "expected \",\" or \"}\"",
            "the %s that begins here is not closed, or a comma is missing, before line %d",
            list ? "[" : "{", at.line);
}

static const Words *words_for(const yaml_parser_t *parser) {
  for (gsize i = 0; i < G_N_ELEMENTS(words); i++) {
    if (parser->problem && g_str_has_prefix(parser->problem, words[i].problem))
      return &words[i];
  }
  return NULL;
}

static void say_in_words(BtReport *report, const yaml_parser_t *parser, BtPlace at, bool curly) {
  const Words *its = words_for(parser);
  g_autofree char *raw = g_strdup_printf("this is no YAML (%s)", parser->problem);
  const char *wrong = its ? its->wrong : raw;
  const char *expected = its ? its->expected : NULL;
  if (curly)
    expected = "this line has a curly quote; YAML knows only straight ones, \" and '";
  BtPlace begun = bt__place(parser->context_mark);
  if (parser->context && begun.line != at.line)
    bt__fault(report, at, expected, "%s (it belongs to what begins at %d:%d)", wrong, begun.line,
              begun.column);
  else
    bt__fault(report, at, expected, "%s", wrong);
}

// The line that lacks its ":" is the one where the key began, not the one where that showed.
static bool no_colon(const yaml_parser_t *parser) {
  return parser->context && g_str_has_prefix(parser->context, "while scanning a simple key");
}

void bt__syntax_fault(BtReport *report, const yaml_parser_t *parser, const char *text, gsize length,
                      BtPlace quote, int quote_end_line) {
  BtPlace at = bt__place(no_colon(parser) ? parser->context_mark : parser->problem_mark);
  const char *end = text + length;
  const char *line = line_start(text, end, at.line);
  if (quote_not_closed(parser))
    say_quote(report, bt__place(parser->context_mark));
  else if (quote_end_line > 0 && quote_end_line == at.line)
    say_quote(report, quote);
  else if (bracket_not_closed(parser, at))
    say_bracket(report, parser, at);
  else if (indented_by_tab(line, end, &at))
    bt__fault(report, at, "indent with spaces", "a tab stands in the indentation");
  else
    say_in_words(report, parser, at, has_curly_quote(line, end));
}
