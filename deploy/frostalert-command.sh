#!/bin/sh
# The command beside the installed service, as /usr/local/bin/frostalert:
#   sudo frostalert ack --by Ines
#   sudo frostalert reading "Lane post" "27.5 degF"
# It runs as the service's own user on the service's own state and configuration. Only
# what writes the configuration, or needs the passwords, runs as root. What it writes for
# you goes through your shell:
#   sudo frostalert plan --calendar - > night.ics
set -eu
export FROSTALERT_CONFIG=/etc/frostalert/frostalert.toml
export STATE_DIRECTORY=/var/lib/frostalert
program=/opt/frostalert/bin/frostalert
case "${1:-}" in
stage | config | doctor | test-message)
    export CREDENTIALS_DIRECTORY=/etc/frostalert
    exec "$program" "$@"
    ;;
*)
    # The caller's home is closed to the service's user, and a library that draws wants a
    # folder to write to: the one that the unit has.
    export HOME=/nonexistent MPLCONFIGDIR=/var/cache/frostalert
    [ -d "$MPLCONFIGDIR" ] ||
        install -d -m 700 -o frostalert -g frostalert "$MPLCONFIGDIR"
    exec setpriv --reuid=frostalert --regid=frostalert --init-groups "$program" "$@"
    ;;
esac
