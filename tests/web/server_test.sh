#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The web service as a whole: a session through it scores as the same events imported do; entries are kept once, whatever is
# sent again and whenever the server is killed; hostile requests are refused; stalled ones hold nobody up.
set -u
. "$SOURCE_DIR/tests/support/cli.sh"
small_book
expect 2 "no director has an account" "$BENCHTALLY" serve
expect 2 "plain-http-on-lan" "$BENCHTALLY" serve --listen 0.0.0.0
"$BENCHTALLY" person add D-1 --role director >/dev/null
expect 2 "10 characters or more, not digits" "$BENCHTALLY" person account D-1 <<<"123456"
expect 0 "D-1: may log in" "$BENCHTALLY" person account D-1 <<<"a quiet corner"
expect 0 "A-1: may log in" "$BENCHTALLY" person account A-1 <<<"123456"
expect 0 "T-1: may log in" "$BENCHTALLY" person account T-1 <<<"654321"
python3 "$SOURCE_DIR/tests/web/server_tries.py" "$BENCHTALLY" "$SOURCE_DIR" || complain "the server's tries failed"
expect 0 "every record holds" "$BENCHTALLY" verify
expect 0 "" "$BENCHTALLY" serve --make-cert "$WORK/cert"
expect 2 "is not overwritten" "$BENCHTALLY" serve --make-cert "$WORK/cert"
[ "$(stat -c %a "$WORK/cert/server.key")" = 600 ] || complain "the key can be read by others"
expect 0 "OK" openssl verify -CAfile "$WORK/cert/lab-ca.pem" "$WORK/cert/server.pem"
"$BENCHTALLY" serve --port 0 --cert "$WORK/cert/server.pem" --key "$WORK/cert/server.key" >"$WORK/said" &
server=$!
for _ in $(seq 100); do grep -q Open "$WORK/said" && break; sleep 0.05; done
address=$(grep -o 'https://[^ ]*' "$WORK/said")
expect 0 "nobody is logged in" curl -s --cacert "$WORK/cert/lab-ca.pem" "${address}api/me"
expect 60 "" curl -s "${address}api/me"
kill -INT "$server"
wait "$server" || complain "the server did not end well"
[ ! -e "$BENCHTALLY_BOOK-wal" ] || complain "the book was not left in one file"
finish
