#!/usr/bin/env bash
# A real TAP server (GAVO DaCHS on PostgreSQL) for the integration tests, on 127.0.0.1 only. Debian 12, as root.
#
#   setup_server.sh install | make | start | stop | all (install, make and start)
#
# Settings, by environment: TAP_HOME (a short path that the user postgres can enter), TAP_PORT, TAP_MAX_ROWS (the
# server's hard limit of rows an answer), PYTHON (one that has guidestar's test packages).
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
: "${TAP_HOME:=/tmp/guidestar-tap}" "${TAP_PORT:=18431}" "${TAP_MAX_ROWS:=60000}"
: "${PYTHON:=$here/../../.venv/bin/python}"
packages=(postgresql-15 postgresql-15-q3c postgresql-15-pgsphere python3-gavo)
binaries=/usr/lib/postgresql/15/bin
extensions=/usr/share/postgresql/15/extension
url=http://127.0.0.1:$TAP_PORT/tap

# Everything of the server runs as postgres and with a bare environment: DaCHS must find Debian's own Python.
as_server() {
  setpriv --reuid=postgres --regid=postgres --init-groups --no-new-privs \
    env -i -C "$TAP_HOME" PATH=/usr/bin:/bin LANG=C.UTF-8 HOME="$TAP_HOME" GAVOSETTINGS="$TAP_HOME/settings" "$@"
}
sql() { as_server psql -qX -v ON_ERROR_STOP=1 -h "$TAP_HOME/socket" gavo "$@"; }
fail() { echo "setup_server.sh: $1" >&2; [ -z "${2:-}" ] || tail -n 30 "$2" >&2; exit 1; }

install_packages() {
  # The server package proper is left out: it wants a database that runs while it is being installed.
  dpkg --status "${packages[@]}" >/dev/null 2>&1 && return
  local log; log=$(mktemp)
  { apt-get update -qq && DEBIAN_FRONTEND=noninteractive \
      apt-get install -y -qq --no-install-recommends "${packages[@]}"; } >"$log" 2>&1 </dev/null ||
    fail "the server's packages cannot be installed" "$log"
  rm -f "$log"
}

make_extension() {
  # PostgreSQL 15.20 refuses two operators in pg_sphere that exist for old versions of DaCHS only (pgsphere issue 85):
  # the extension is loaded from a copy of its script without them, under a version name of its own.
  local script
  script=$(ls "$extensions"/pg_sphere--[0-9]*.[0-9].sql | grep -v -- '--.*--' | sort -V | tail -n 1)
  awk '/backwards-compatible operators for GAVO DaCHS/ {skip = 1} /^-- debugging/ {skip = 0} !skip' \
    "$script" >"$extensions/pg_sphere--9.9guidestar.sql"
}

make_database() {
  as_server "$binaries/initdb" -D "$TAP_HOME/database" -U postgres -A trust -E UTF8 --locale=C.UTF-8 --no-sync \
    >"$TAP_HOME/log.initdb" 2>&1 || fail "no database" "$TAP_HOME/log.initdb"
  # A database for tests may be lost in a power cut; row order must not depend on other scans.
  printf '%s\n' "listen_addresses = ''" "unix_socket_directories = '$TAP_HOME/socket'" 'fsync = off' \
    'synchronous_commit = off' 'full_page_writes = off' 'synchronize_seqscans = off' 'shared_buffers = 96MB' \
    >>"$TAP_HOME/database/postgresql.conf"
  start_database
  as_server createdb -h "$TAP_HOME/socket" -T template0 -E UTF8 gavo
  sql -c "CREATE EXTENSION pg_sphere VERSION '9.9guidestar'" -c 'CREATE EXTENSION q3c'
}

write_settings() {
  cat >"$TAP_HOME/settings" <<END
[general]
rootDir: $TAP_HOME/dachs
gavoGroup: postgres
group: postgres
maintainerAddress: nobody@example.org
sendmail: cat >/dev/null
[web]
bindAddress: 127.0.0.1
serverPort: $TAP_PORT
serverURL: http://127.0.0.1:$TAP_PORT
user: postgres
sitename: Stars for tests
[ivoa]
authority: org.example.stars
[async]
defaultMAXREC: 2000
hardMAXREC: $TAP_MAX_ROWS
defaultExecTimeSync: 30
END
}

make_server() {
  [ -x "$PYTHON" ] || fail "PYTHON=$PYTHON is not there"
  stop_server
  rm -rf "$TAP_HOME"
  install -d -o postgres -g postgres "$TAP_HOME" "$TAP_HOME/socket"
  trap stop_server ERR
  write_settings
  "$PYTHON" "$here/server_rows.py" "$TAP_HOME/rows.tsv" >"$TAP_HOME/rows.json"
  make_database
  as_server dachs init -d "host=$TAP_HOME/socket dbname=gavo user=postgres" >"$TAP_HOME/log.init" 2>&1 </dev/null ||
    fail "DaCHS cannot be set up" "$TAP_HOME/log.init"
  install -d -o postgres "$TAP_HOME/dachs/inputs/gaiadr3"
  install -o postgres -m 644 "$here/gaia.rd" "$TAP_HOME/dachs/inputs/gaiadr3/q.rd"
  as_server dachs imp gaiadr3/q >"$TAP_HOME/log.import" 2>&1 </dev/null || fail "no table" "$TAP_HOME/log.import"
  sql -c '\copy gaiadr3.gaia_source FROM rows.tsv' -c 'ANALYZE gaiadr3.gaia_source'
  rm "$TAP_HOME/rows.tsv"
  trap - ERR
}

start_database() {
  as_server "$binaries/pg_ctl" -D "$TAP_HOME/database" status >/dev/null ||
    as_server "$binaries/pg_ctl" -D "$TAP_HOME/database" -s -w -l "$TAP_HOME/log.database" start </dev/null
}

start_server() {
  start_database
  # setpriv and env replace themselves, so that the process number is DaCHS' own.
  setpriv --reuid=postgres --regid=postgres --init-groups \
    env -i -C "$TAP_HOME" PATH=/usr/bin:/bin LANG=C.UTF-8 HOME="$TAP_HOME" GAVOSETTINGS="$TAP_HOME/settings" \
    OPENBLAS_NUM_THREADS=1 dachs serve start -f >"$TAP_HOME/log.server" 2>&1 </dev/null &
  echo $! >"$TAP_HOME/server.pid"
  disown
  local deadline=$((SECONDS + 90))
  until "$PYTHON" -c 'import sys, urllib.request as u; sys.exit(b"true" not in u.urlopen(sys.argv[1], timeout=3).read())' \
    "$url/availability" 2>/dev/null; do
    kill -0 "$(cat "$TAP_HOME/server.pid")" 2>/dev/null || fail "the server ended" "$TAP_HOME/log.server"
    [ $SECONDS -lt $deadline ] || { stop_server; fail "the server does not answer" "$TAP_HOME/log.server"; }
    sleep 0.3
  done
  echo "$url"
}

stop_server() {
  if [ -s "$TAP_HOME/server.pid" ]; then
    local number; number=$(cat "$TAP_HOME/server.pid")
    rm -f "$TAP_HOME/server.pid"
    kill "$number" 2>/dev/null || true
    for _ in $(seq 50); do kill -0 "$number" 2>/dev/null || break; sleep 0.1; done
    kill -9 "$number" 2>/dev/null || true
  fi
  # Ends the jobs too: they are processes of their own, but live on the database.
  [ ! -s "$TAP_HOME/database/postmaster.pid" ] ||
    as_server "$binaries/pg_ctl" -D "$TAP_HOME/database" -s -m immediate stop </dev/null || true
}

case ${1:-} in
  install) install_packages; make_extension ;;
  make) make_server ;;
  start) start_server ;;
  stop) stop_server ;;
  all) install_packages; make_extension; make_server; start_server ;;
  *) fail "say install, make, start, stop or all" ;;
esac
