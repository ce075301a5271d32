// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/xlsx_private.h"

#include <benchtally/base.h>

#include <errno.h>
#include <fcntl.h>
#include <locale.h>
#include <math.h>
#include <stdarg.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

// Errors ----------------------------------------------------------------------

void bt__xlsx_fail(BtXlsx *xlsx, int code, const char *form, ...) {
  if (xlsx->error)
    return;
  va_list values;
  va_start(values, form);
  xlsx->error = g_error_new_valist(BT_ERROR, code, form, values);
  va_end(values);
}

// "sheet Summary, B3"
static char *cell_name(const BtXlsxSheet *sheet, int row, int column) {
  char name[LXW_MAX_CELL_NAME_LENGTH];
  lxw_rowcol_to_cell(name, (lxw_row_t)row, (lxw_col_t)column);
  return g_strdup_printf("%s: sheet %s, %s", sheet->xlsx->path, sheet->name, name);
}

void bt__xlsx_took(BtXlsxSheet *sheet, int row, int column, lxw_error code) {
  if (code == LXW_NO_ERROR)
    return;
  g_autofree char *cell = cell_name(sheet, row, column);
  bt__xlsx_fail(sheet->xlsx, BT_ERROR_EXPORT, "%s: could not be written: %s", cell,
                lxw_strerror(code));
}

bool bt__xlsx_open(const BtXlsxSheet *sheet) {
  return sheet->sheet && !sheet->xlsx->error;
}

// Beginning -------------------------------------------------------------------

// A folder of our own beside the target, so that what is written there can be renamed into place
// and the temporary files of the library fill no other disk.
static bool make_folder(BtXlsx *xlsx) {
  g_autofree char *beside = g_path_get_dirname(xlsx->path);
  xlsx->folder = g_build_filename(beside, ".benchtally-XXXXXX", NULL);
  if (!g_mkdtemp(xlsx->folder)) {
    int reason = errno;
    bool missing = reason == ENOENT || reason == ENOTDIR;
    g_clear_pointer(&xlsx->folder, g_free);
    bt__xlsx_fail(xlsx, missing ? BT_ERROR_FILE : BT_ERROR_DISK,
                  "%s: cannot be written: folder %s: %s", xlsx->path, beside, g_strerror(reason));
    return false;
  }
  xlsx->scratch = g_build_filename(xlsx->folder, "workbook.xlsx", NULL);
  return true;
}

static void set_properties(BtXlsx *xlsx, const BtXlsxProperties *properties) {
  g_autofree char *title = bt__xlsx_clean(xlsx, "the title", properties->title);
  g_autofree char *subject = bt__xlsx_clean(xlsx, "the subject", properties->subject);
  g_autofree char *author = bt__xlsx_clean(xlsx, "the author", properties->author);
  g_autofree char *keywords = bt__xlsx_clean(xlsx, "the keywords", properties->keywords);
  g_autofree char *comments = bt__xlsx_clean(xlsx, "the comments", properties->comments);
  if (xlsx->error)
    return;
  if (properties->created_ms < 1000) { // the library takes 0 for "now"
    bt__xlsx_fail(xlsx, BT_ERROR_EXPORT, "%s: the record gives no date for the document",
                  xlsx->path);
    return;
  }
  lxw_doc_properties out = {.title = title,
                            .subject = subject,
                            .author = author,
                            .keywords = keywords,
                            .comments = comments,
                            .created = (time_t)(properties->created_ms / 1000)};
  if (workbook_set_properties(xlsx->workbook, &out) != LXW_NO_ERROR)
    bt__xlsx_fail(xlsx, BT_ERROR_EXPORT, "%s: its properties were refused", xlsx->path);
}

static void clear_fitted(gpointer data) {
  g_free(((BtFitted *)data)->text);
}

static void free_sheet(gpointer data) {
  BtXlsxSheet *sheet = data;
  g_free(sheet->name);
  g_array_unref(sheet->breaks);
  g_array_unref(sheet->fitted);
  g_free(sheet);
}

BtXlsx *bt__xlsx_new(const char *path, const BtXlsxProperties *properties) {
  BtXlsx *xlsx = g_new0(BtXlsx, 1);
  xlsx->path = g_strdup(path);
  xlsx->sheets = g_ptr_array_new_with_free_func(free_sheet);
  if (!make_folder(xlsx))
    return xlsx;
  lxw_workbook_options options = {.tmpdir = xlsx->folder};
  xlsx->workbook = workbook_new_opt(xlsx->scratch, &options);
  if (!xlsx->workbook) {
    bt__xlsx_fail(xlsx, BT_ERROR_EXPORT, "%s: not enough memory for a workbook", path);
    return xlsx;
  }
  set_properties(xlsx, properties);
  bt__xlsx_make_formats(xlsx);
  return xlsx;
}

// Closing ---------------------------------------------------------------------

static void set_breaks(BtXlsxSheet *sheet) {
  if (sheet->breaks->len == 0 || !bt__xlsx_open(sheet))
    return;
  const lxw_row_t end = 0;
  g_array_append_val(sheet->breaks, end);
  bt__xlsx_took(
      sheet, 0, 0,
      worksheet_set_h_pagebreaks(sheet->sheet, &g_array_index(sheet->breaks, lxw_row_t, 0)));
}

static void finish_sheets(BtXlsx *xlsx) {
  for (guint i = 0; i < xlsx->sheets->len; i++) {
    BtXlsxSheet *sheet = g_ptr_array_index(xlsx->sheets, i);
    bt__xlsx_fit_rows(sheet);
    set_breaks(sheet);
  }
}

// Numbers are turned into text here, so the locale is fixed here.
static void write_scratch(BtXlsx *xlsx) {
  locale_t plain = newlocale(LC_ALL_MASK, "C", (locale_t)0);
  locale_t before = uselocale(plain);
  errno = 0;
  lxw_error code = workbook_close(g_steal_pointer(&xlsx->workbook));
  int reason = errno;
  uselocale(before);
  freelocale(plain);
  if (code != LXW_NO_ERROR)
    bt__xlsx_fail(xlsx, BT_ERROR_DISK, "%s: could not be written: %s", xlsx->path,
                  reason ? g_strerror(reason) : lxw_strerror(code));
}

static void read_back(BtXlsx *xlsx) {
  g_autoptr(GError) cause = NULL;
  if (!bt__xlsx_check_file(xlsx->scratch, (int)xlsx->sheets->len, xlsx->charts, &cause))
    bt__xlsx_fail(xlsx, BT_ERROR_DISK,
                  "%s: was not written whole (%s); is there space left on that disk?", xlsx->path,
                  cause->message);
}

static bool flush(const char *path, int flags) {
  int fd = open(path, flags | O_CLOEXEC);
  if (fd < 0)
    return false;
  bool flushed = fsync(fd) == 0;
  int reason = errno;
  flushed = close(fd) == 0 && flushed;
  errno = reason;
  return flushed;
}

// Flushes the finished file and lets it take the place of the target.
static void put_in_place(BtXlsx *xlsx) {
  if (!flush(xlsx->scratch, O_RDONLY) || rename(xlsx->scratch, xlsx->path) != 0) {
    bt__xlsx_fail(xlsx, BT_ERROR_DISK, "%s: could not be put in place: %s", xlsx->path,
                  g_strerror(errno));
    return;
  }
  g_autofree char *beside = g_path_get_dirname(xlsx->path);
  // A file system that cannot flush a folder has renamed all the same: nothing to take back.
  (void)flush(beside, O_RDONLY | O_DIRECTORY);
}

static void clear_away(BtXlsx *xlsx) {
  if (xlsx->workbook)
    lxw_workbook_free(xlsx->workbook);
  if (xlsx->scratch)
    (void)unlink(xlsx->scratch); // gone already when all went well
  if (xlsx->folder)
    (void)rmdir(xlsx->folder);
}

bool bt__xlsx_close(BtXlsx *xlsx, GError **error) {
  finish_sheets(xlsx);
  if (!xlsx->error)
    write_scratch(xlsx);
  if (!xlsx->error)
    read_back(xlsx);
  if (!xlsx->error)
    put_in_place(xlsx);
  clear_away(xlsx);
  GError *first = xlsx->error;
  g_ptr_array_unref(xlsx->sheets);
  g_free(xlsx->path);
  g_free(xlsx->folder);
  g_free(xlsx->scratch);
  g_free(xlsx);
  if (first)
    g_propagate_error(error, first);
  return first == NULL;
}

// Sheets ----------------------------------------------------------------------

static void set_up_paper(lxw_worksheet *sheet, bool landscape) {
  enum { PAPER_A4 = 9 };
  worksheet_set_paper(sheet, PAPER_A4);
  if (landscape)
    worksheet_set_landscape(sheet);
  // Margins in inches that leave A4 and Letter the same width or more for what is scaled to fit.
  worksheet_set_margins(sheet, 0.6, 0.6, 0.6, 0.8);
  worksheet_fit_to_pages(sheet, 1, 0);
}

BtXlsxSheet *bt__xlsx_sheet(BtXlsx *xlsx, const char *name, bool read, bool landscape) {
  BtXlsxSheet *sheet = g_new0(BtXlsxSheet, 1);
  sheet->xlsx = xlsx;
  sheet->name = g_strdup(name);
  sheet->breaks = g_array_new(FALSE, FALSE, sizeof(lxw_row_t));
  sheet->fitted = g_array_new(FALSE, FALSE, sizeof(BtFitted));
  g_array_set_clear_func(sheet->fitted, clear_fitted);
  g_ptr_array_add(xlsx->sheets, sheet);
  if (xlsx->error)
    return sheet;
  sheet->sheet = workbook_add_worksheet(xlsx->workbook, name);
  if (!sheet->sheet) {
    bt__xlsx_fail(xlsx, BT_ERROR_EXPORT, "%s: a sheet cannot be named \"%s\"", xlsx->path, name);
    return sheet;
  }
  set_up_paper(sheet->sheet, landscape);
  if (read)
    worksheet_gridlines(sheet->sheet, LXW_HIDE_ALL_GRIDLINES);
  return sheet;
}

void bt__xlsx_one_page(BtXlsxSheet *sheet) {
  if (bt__xlsx_open(sheet))
    worksheet_fit_to_pages(sheet->sheet, 1, 1);
}

#define FOOTER_WORDS 120 // a footer holds 255 characters with its codes

// The text for a cell or its footer; NULL after keeping an error that names the cell. Caller frees.
static char *clean_for(BtXlsxSheet *sheet, int row, int column, const char *text) {
  g_autofree char *fault = NULL;
  char *clean = bt__clean_text(text, true, &fault);
  if (!clean) {
    g_autofree char *cell = cell_name(sheet, row, column);
    bt__xlsx_fail(sheet->xlsx, BT_ERROR_EXPORT, "%s: %s", cell, fault);
  }
  return clean;
}

void bt__xlsx_footer(BtXlsxSheet *sheet, const char *text) {
  if (!bt__xlsx_open(sheet))
    return;
  g_autofree char *clean = clean_for(sheet, 0, 0, text);
  if (!clean)
    return;
  GString *footer = g_string_new("&L&9");
  int n = 0;
  for (const char *p = clean; *p && n < FOOTER_WORDS; p = g_utf8_next_char(p), n++) {
    if (*p == '&') // begins a code
      g_string_append_c(footer, '&');
    g_string_append_unichar(footer, *p == '\n' ? ' ' : g_utf8_get_char(p));
  }
  // A digit right after the font size would be read as part of it.
  g_string_insert_c(footer, 4, ' ');
  g_string_append(footer, "&R&9Page &P of &N");
  bt__xlsx_took(sheet, 0, 0, worksheet_set_footer(sheet->sheet, footer->str));
  g_string_free(footer, TRUE);
}

void bt__xlsx_width(BtXlsxSheet *sheet, int column, double characters) {
  if (column < BT_XLSX_COLUMNS)
    sheet->widths[column] = characters;
  if (bt__xlsx_open(sheet))
    bt__xlsx_took(
        sheet, 0, column,
        worksheet_set_column(sheet->sheet, (lxw_col_t)column, (lxw_col_t)column, characters, NULL));
}

void bt__xlsx_height(BtXlsxSheet *sheet, int row, double points) {
  if (bt__xlsx_open(sheet))
    bt__xlsx_took(sheet, row, 0, worksheet_set_row(sheet->sheet, (lxw_row_t)row, points, NULL));
}

void bt__xlsx_print_area(BtXlsxSheet *sheet, int last_row, int last_column) {
  if (bt__xlsx_open(sheet))
    bt__xlsx_took(
        sheet, last_row, last_column,
        worksheet_print_area(sheet->sheet, 0, 0, (lxw_row_t)last_row, (lxw_col_t)last_column));
}

#define PAGE_PIXELS  720 // of Letter in landscape, less what programs with wider letters take
#define SCALE_LEAST  10  // percent, what a sheet can ask for
#define USUAL_PIXELS 64  // of a column

void bt__xlsx_pages_beside(BtXlsxSheet *sheet, int repeated, int column) {
  if (!bt__xlsx_open(sheet))
    return;
  double pixels = 0;
  for (int i = 0; i < column; i++)
    pixels += sheet->widths[i] > 0 ? sheet->widths[i] * 7 + 5 : USUAL_PIXELS;
  int percent = (int)CLAMP(100 * PAGE_PIXELS / pixels, SCALE_LEAST, 100);
  lxw_col_t breaks[] = {(lxw_col_t)column, 0};
  worksheet_set_print_scale(sheet->sheet, (uint16_t)percent); // in place of the fit to a width
  bt__xlsx_took(sheet, 0, column, worksheet_set_v_pagebreaks(sheet->sheet, breaks));
  if (repeated > 0)
    bt__xlsx_took(sheet, 0, 0,
                  worksheet_repeat_columns(sheet->sheet, 0, (lxw_col_t)(repeated - 1)));
}

// The library takes the breaks of a sheet in one call, so they are kept until the end.
void bt__xlsx_page_break(BtXlsxSheet *sheet, int before_row) {
  lxw_row_t row = (lxw_row_t)before_row;
  g_array_append_val(sheet->breaks, row);
}

// Cells -----------------------------------------------------------------------

void bt__xlsx_blank(BtXlsxSheet *sheet, int row, int column, BtStyle style) {
  if (bt__xlsx_open(sheet))
    bt__xlsx_took(sheet, row, column,
                  worksheet_write_blank(sheet->sheet, (lxw_row_t)row, (lxw_col_t)column,
                                        sheet->xlsx->formats[style]));
}

void bt__xlsx_text(BtXlsxSheet *sheet, int row, int column, BtStyle style, const char *text) {
  if (!text || !*text) {
    bt__xlsx_blank(sheet, row, column, style);
    return;
  }
  if (!bt__xlsx_open(sheet))
    return;
  g_autofree char *clean = clean_for(sheet, row, column, text);
  if (!clean)
    return;
  bt__xlsx_note_fit(sheet, row, column, style, clean);
  bt__xlsx_took(sheet, row, column,
                worksheet_write_string(sheet->sheet, (lxw_row_t)row, (lxw_col_t)column, clean,
                                       sheet->xlsx->formats[style]));
}

void bt__xlsx_real(BtXlsxSheet *sheet, int row, int column, BtStyle style, double value) {
  if (!bt__xlsx_open(sheet))
    return;
  if (!isfinite(value)) {
    g_autofree char *where = cell_name(sheet, row, column);
    bt__xlsx_fail(sheet->xlsx, BT_ERROR_EXPORT, "%s: its value is no finite number", where);
    return;
  }
  bt__xlsx_took(sheet, row, column,
                worksheet_write_number(sheet->sheet, (lxw_row_t)row, (lxw_col_t)column, value,
                                       sheet->xlsx->formats[style]));
}

// Thousandths up to this are told apart by the 15 significant digits that a spreadsheet keeps.
#define MILLI_MAX G_GINT64_CONSTANT(1000000000000000)

void bt__xlsx_milli(BtXlsxSheet *sheet, int row, int column, BtStyle style, gint64 milli) {
  if (milli >= MILLI_MAX || milli <= -MILLI_MAX) {
    g_autofree char *where = cell_name(sheet, row, column);
    bt__xlsx_fail(sheet->xlsx, BT_ERROR_EXPORT, "%s: its value has more digits than a cell keeps",
                  where);
    return;
  }
  bt__xlsx_real(sheet, row, column, style, (double)milli / 1000.0);
}

void bt__xlsx_count(BtXlsxSheet *sheet, int row, int column, gint64 count) {
  bt__xlsx_real(sheet, row, column, BT_STYLE_COUNT, (double)count);
}

#define DAY_MS   86400000.0
#define EPOCH_AT 25569 // day number of 1970-01-01 in a spreadsheet
#define DATE_MAX G_GINT64_CONSTANT(253402300799999)

void bt__xlsx_date(BtXlsxSheet *sheet, int row, int column, gint64 wall_ms) {
  if (wall_ms < 0 || wall_ms > DATE_MAX)
    bt__xlsx_blank(sheet, row, column, BT_STYLE_DATE);
  else
    bt__xlsx_real(sheet, row, column, BT_STYLE_DATE, (double)wall_ms / DAY_MS + EPOCH_AT);
}

void bt__xlsx_duration(BtXlsxSheet *sheet, int row, int column, gint64 ms) {
  if (ms < 0)
    bt__xlsx_blank(sheet, row, column, BT_STYLE_DURATION);
  else
    bt__xlsx_real(sheet, row, column, BT_STYLE_DURATION, (double)ms / DAY_MS);
}
