# SPDX-License-Identifier: GPL-3.0-or-later
# For tests of the recorder: a terminal of 80 x 24 that is typed into and read. Each test has a server of its own.
terminal_socket=$WORK/terminal
terminal() {
  tmux -S "$terminal_socket" -f /dev/null "$@"
}

# terminal_run COMMAND...: starts it in the terminal, which stays when the command ends.
terminal_run() {
  terminal new-session -d -s bench -x 80 -y 24 \; set-option -g remain-on-exit on \; \
    respawn-window -k -t bench "$(printf '%q ' "$@")"
}

screen() {
  terminal capture-pane -p -t bench
}

# keys KEY...: types keys one by one; names as tmux has them (Enter, Space, Escape).
keys() {
  local key
  for key in "$@"; do terminal send-keys -t bench "$key"; done
}

# wait_for WORDS [TENTHS]: waits until the screen holds words (extended regular expression).
wait_for() {
  local i
  for ((i = 0; i < ${2:-80}; i++)); do
    screen | grep -qE -- "$1" && return 0
    sleep 0.1
  done
  echo "the screen never said \"$1\"; it says:"
  screen
  return 1
}

# type_for WORDS KEY...: types the keys; a screen that never says the words ends the test.
type_for() {
  local words=$1
  shift
  keys "$@"
  wait_for "$words" || { failures=$((failures + 1)); finish; }
}

terminal_end() {
  terminal kill-server 2>/dev/null
}
