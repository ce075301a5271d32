// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/hosts.h"

#include <arpa/inet.h>
#include <ifaddrs.h>
#include <netinet/in.h>
#include <string.h>
#include <sys/socket.h>

bool bt__is_loopback(const char *address) {
  return g_str_has_prefix(address, "127.") || strcmp(address, "::1") == 0;
}

static void add_address(GHashTable *hosts, const struct sockaddr *address) {
  char text[INET6_ADDRSTRLEN] = "";
  if (address && address->sa_family == AF_INET)
    inet_ntop(AF_INET, &((const struct sockaddr_in *)address)->sin_addr, text, sizeof text);
  else if (address && address->sa_family == AF_INET6)
    inet_ntop(AF_INET6, &((const struct sockaddr_in6 *)address)->sin6_addr, text, sizeof text);
  if (*text)
    g_hash_table_add(hosts, g_strdup(text));
}

static void add_interfaces(GHashTable *hosts) {
  struct ifaddrs *interfaces = NULL;
  if (getifaddrs(&interfaces) != 0)
    return;
  for (const struct ifaddrs *one = interfaces; one; one = one->ifa_next)
    add_address(hosts, one->ifa_addr);
  freeifaddrs(interfaces);
}

// The machine's name, and the one it has in a network without a name server.
static void add_names(GHashTable *hosts) {
  char *name = g_ascii_strdown(g_get_host_name(), -1);
  g_hash_table_add(hosts, g_strconcat(name, ".local", NULL));
  g_hash_table_add(hosts, name);
}

GHashTable *bt__hosts_of(const char *address) {
  GHashTable *hosts = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  bool any = strcmp(address, "0.0.0.0") == 0 || strcmp(address, "::") == 0;
  g_hash_table_add(hosts, g_strdup("localhost"));
  if (!any) // which names no machine
    g_hash_table_add(hosts, g_ascii_strdown(address, -1));
  if (bt__is_loopback(address))
    return hosts;
  add_names(hosts);
  add_interfaces(hosts);
  return hosts;
}
