// SPDX-License-Identifier: GPL-3.0-or-later
#include <errno.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>

#include <benchtally/account.h>

#include "cli/cli.h"
#include "serve/hosts.h"
#include "serve/serve.h"

#define PORT_DEFAULT 8480

typedef struct {
  char *listen, *cert, *key, *make_cert;
  int port;
  gboolean plain, verbose;
} Options;

static void options_clear(Options *options) {
  g_free(options->listen);
  g_free(options->cert);
  g_free(options->key);
  g_free(options->make_cert);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Options, options_clear)

static bool parse(Cli *cli, int argc, char **argv, Options *options, int *status) {
  const GOptionEntry entries[] = {
      {"listen", 0, 0, G_OPTION_ARG_STRING, &options->listen,
       "Where to listen (default: 127.0.0.1, this machine alone; 0.0.0.0: the network)", "ADDRESS"},
      {"port", 0, 0, G_OPTION_ARG_INT, &options->port, "The port (default: 8480; 0: any)", "N"},
      {"cert", 0, 0, G_OPTION_ARG_FILENAME, &options->cert, "Certificate for TLS (PEM)", "FILE"},
      {"key", 0, 0, G_OPTION_ARG_FILENAME, &options->key, "Its key (PEM)", "FILE"},
      {"make-cert", 0, 0, G_OPTION_ARG_FILENAME, &options->make_cert,
       "Make a certificate of the lab's own in this folder, and end", "DIR"},
      {"plain-http-on-lan", 0, 0, G_OPTION_ARG_NONE, &options->plain,
       "Serve the network without TLS: whoever is on it can read along", NULL},
      {"verbose", 0, 0, G_OPTION_ARG_NONE, &options->verbose,
       "A line on standard error for each request", NULL},
      G_OPTION_ENTRY_NULL};
  return cli_parse(cli, &argc, &argv, entries, 0, 0, status);
}

static bool check(const Options *options, int *status) {
  if (!options->cert != !options->key)
    *status = cli_usage_error("--cert and --key go together");
  else if (options->port < 0 || options->port > G_MAXUINT16)
    *status = cli_usage_error("--port %d is no port; use 1 to 65535", options->port);
  else if (!options->cert && !options->plain && !bt__is_loopback(options->listen))
    *status = cli_usage_error(
        "--listen %s would show names and results to everybody on the network; give --cert and "
        "--key (`benchtally serve --make-cert DIR` makes them), or say --plain-http-on-lan",
        options->listen);
  return *status == 0;
}

// Nobody could give others an account.
static bool check_director(const Cli *cli, int *status) {
  g_autoptr(GError) error = NULL;
  g_autoptr(BtBook) book = cli_open_book(cli, BT_BOOK_WRITE, status);
  g_autoptr(GHashTable) directors = book ? bt_book_accounts(book, BT_ROLE_DIRECTOR, &error) : NULL;
  if (error)
    *status = cli_error(g_steal_pointer(&error));
  else if (directors && g_hash_table_size(directors) == 0)
    *status = cli_usage_error(
        "no director has an account yet, and only a director lets others in; first `benchtally "
        "person add CODE --role director`, then `benchtally person account CODE`");
  return *status == 0;
}

// The program that makes documents stands beside this one.
static char *reports_path(void) {
  g_autofree char *own = g_file_read_link("/proc/self/exe", NULL);
  g_autofree char *folder = g_path_get_dirname(own ? own : ".");
  return g_build_filename(folder, "benchtally-reports", NULL);
}

static void say_where(Cli *cli, const Options *options, const BtServer *server) {
  bool any = strcmp(options->listen, "0.0.0.0") == 0 || strcmp(options->listen, "::") == 0;
  bool v6 = !any && strchr(options->listen, ':');
  g_string_append_printf(cli->out, "Open http%s://%s%s%s:%u/ in a browser%s.\nCtrl-C ends it.\n",
                         options->cert ? "s" : "", v6 ? "[" : "",
                         any ? g_get_host_name() : options->listen, v6 ? "]" : "",
                         bt_serve_port(server),
                         bt__is_loopback(options->listen) ? " on this machine" : " on the network");
}

// The signals that end it go to whoever waits for them, in every thread that is begun from here on.
static void hold_signals(sigset_t *ending) {
  sigemptyset(ending);
  sigaddset(ending, SIGINT);
  sigaddset(ending, SIGTERM);
  pthread_sigmask(SIG_BLOCK, ending, NULL);
}

static int serve(Cli *cli, const Options *options) {
  sigset_t ending;
  int caught = 0;
  g_autofree char *reports = reports_path();
  const BtServeOptions to = {.book_path = cli->book_path,
                             .reports_program = reports,
                             .address = options->listen,
                             .port = (guint16)options->port,
                             .cert_path = options->cert,
                             .key_path = options->key,
                             .verbose = options->verbose};
  g_autoptr(GError) error = NULL;
  hold_signals(&ending);
  BtServer *server = bt_serve_start(&to, &error);
  if (!server)
    return cli_error(g_steal_pointer(&error));
  say_where(cli, options, server);
  bool told = cli_flush(cli);
  if (told)
    sigwait(&ending, &caught);
  bt_serve_stop(server);
  return told ? 0 : 3;
}

int cli_serve(Cli *cli, int argc, char **argv) {
  int status = 0;
  g_auto(Options) options = {.port = PORT_DEFAULT};
  if (!parse(cli, argc, argv, &options, &status))
    return status;
  if (options.make_cert) {
    g_autoptr(GError) error = NULL;
    if (!bt_serve_make_certificate(options.make_cert, &error))
      return cli_error(g_steal_pointer(&error));
    g_string_append_printf(cli->out,
                           "%s: lab-ca.pem, server.pem and server.key made. Tablets trust "
                           "lab-ca.pem; serve with --cert server.pem --key server.key.\n",
                           options.make_cert);
    return 0;
  }
  if (!options.listen)
    options.listen = g_strdup("127.0.0.1");
  return check(&options, &status) && check_director(cli, &status) ? serve(cli, &options) : status;
}
