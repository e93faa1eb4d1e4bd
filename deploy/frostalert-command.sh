#!/bin/sh
# The command beside the installed service, as /usr/local/bin/frostalert:
#   sudo frostalert ack --by Ines
#   sudo frostalert reading "Lane post" "27.5 degF"
# It runs as the service's own user on the service's own state and configuration. Only
# what writes the configuration, or needs the passwords, runs as root.
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
    exec setpriv --reuid=frostalert --regid=frostalert --init-groups "$program" "$@"
    ;;
esac
