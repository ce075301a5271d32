// SPDX-License-Identifier: GPL-3.0-or-later
//
// serve_load_tool PORT SECONDS COOKIE TOKEN PATH...: a client for each path, on a connection of its
// own, sends one entry after another, each when the last was acknowledged, and prints
// "EVENTS_PER_SECOND P50_US P99_US". An answer other than 200, or with a refusal, ends it.
#include <arpa/inet.h>
#include <glib.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#define ANSWER_BYTES_MAX 8192

typedef struct {
  int port, number;
  gint64 until_us;
  const char *cookie, *token, *path;
  GArray *took_us; // of gint64
} Client;

static int open_connection(int port) {
  int fd = socket(AF_INET, SOCK_STREAM, 0), yes = 1;
  struct sockaddr_in address = {.sin_family = AF_INET,
                                .sin_port = htons((guint16)port),
                                .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
  if (connect(fd, (struct sockaddr *)&address, sizeof address) != 0)
    g_error("cannot connect to port %d", port);
  setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
  return fd;
}

static char *request_of(const Client *client, guint n) {
  g_autofree char *body =
      g_strdup_printf("{\"entries\":[{\"id\":\"%08x-0000-4000-8000-%012x\",\"at_ms\":%u,"
                      "\"action\":\"note\",\"note\":\"entry %u\"}]}",
                      (guint)client->number, n, n, n);
  return g_strdup_printf("POST %s HTTP/1.1\r\nHost: localhost\r\nCookie: %s\r\n"
                         "X-Benchtally-Token: %s\r\nContent-Type: application/json\r\n"
                         "Content-Length: %zu\r\n\r\n%s",
                         client->path, client->cookie, client->token, strlen(body), body);
}

// Whether the whole answer stands in `text`.
static bool is_whole(const char *text, gsize length) {
  const char *body = strstr(text, "\r\n\r\n");
  const char *said = strstr(text, "Content-Length: ");
  return body && said && length >= (gsize)(body + 4 - text) + strtoul(said + 16, NULL, 10);
}

static void exchange(int fd, const char *request) {
  char answer[ANSWER_BYTES_MAX + 1];
  gsize length = 0;
  if (write(fd, request, strlen(request)) != (ssize_t)strlen(request))
    g_error("cannot send");
  do {
    ssize_t n = read(fd, answer + length, ANSWER_BYTES_MAX - length);
    if (n <= 0)
      g_error("no answer");
    length += (gsize)n;
    answer[length] = '\0';
  } while (!is_whole(answer, length));
  if (strncmp(answer, "HTTP/1.1 200", 12) != 0 || strstr(answer, "refused"))
    g_error("%s", answer);
}

static gpointer send_on(gpointer data) {
  Client *client = data;
  int fd = open_connection(client->port);
  for (guint n = 1; g_get_monotonic_time() < client->until_us; n++) {
    g_autofree char *request = request_of(client, n);
    gint64 begun_us = g_get_monotonic_time();
    exchange(fd, request);
    gint64 took_us = g_get_monotonic_time() - begun_us;
    g_array_append_val(client->took_us, took_us);
  }
  close(fd);
  return NULL;
}

static int by_size(const void *a, const void *b) {
  gint64 x = *(const gint64 *)a, y = *(const gint64 *)b;
  return (x > y) - (x < y);
}

int main(int argc, char **argv) {
  if (argc < 6)
    g_error("serve_load_tool PORT SECONDS COOKIE TOKEN PATH...");
  int n = argc - 5, seconds = atoi(argv[2]);
  g_autofree Client *clients = g_new0(Client, (gsize)n);
  g_autofree GThread **threads = g_new0(GThread *, (gsize)n);
  g_autoptr(GArray) all = g_array_new(FALSE, FALSE, sizeof(gint64));
  gint64 until_us = g_get_monotonic_time() + (gint64)seconds * G_USEC_PER_SEC;
  for (int i = 0; i < n; i++) {
    clients[i] = (Client){atoi(argv[1]),
                          i,
                          until_us,
                          argv[3],
                          argv[4],
                          argv[5 + i],
                          g_array_new(FALSE, FALSE, sizeof(gint64))};
    threads[i] = g_thread_new("client", send_on, &clients[i]);
  }
  for (int i = 0; i < n; i++) {
    g_thread_join(threads[i]);
    g_array_append_vals(all, clients[i].took_us->data, clients[i].took_us->len);
    g_array_unref(clients[i].took_us);
  }
  qsort(all->data, all->len, sizeof(gint64), by_size);
  printf("%u %" G_GINT64_FORMAT " %" G_GINT64_FORMAT "\n", all->len / (guint)seconds,
         g_array_index(all, gint64, all->len / 2), g_array_index(all, gint64, all->len * 99 / 100));
  return 0;
}
