#!/bin/sh
# Remove frostalert. Run as root:
#   sh deploy/uninstall.sh            shows what it would do, and does nothing
#   sh deploy/uninstall.sh --do-it    removes the service and the program
#   sh deploy/uninstall.sh --do-it --with-data
#                                     and configuration, passwords, state and copies
set -eu

if [ "${1:-}" = "--do-it" ]; then
    step() { echo "+ $*"; "$@"; }
    if [ "$(id -u)" -ne 0 ]; then
        echo "uninstall.sh: must be run as root" >&2
        exit 1
    fi
else
    step() { echo "would run: $*"; }
    echo "Nothing is done without --do-it. The steps:"
fi

for unit in frostalert-copy.timer frostalert-copy.service frostalert-web.service \
    frostalert.service; do
    if [ -e "/etc/systemd/system/$unit" ]; then
        step systemctl disable --now "$unit"
        step rm -f "/etc/systemd/system/$unit"
    fi
done
step systemctl daemon-reload
step rm -rf /opt/frostalert /var/cache/frostalert /usr/local/bin/frostalert
if [ "${2:-}" = "--with-data" ]; then
    step rm -rf /etc/frostalert /var/lib/frostalert /var/backups/frostalert
    if id frostalert >/dev/null 2>&1; then
        step userdel frostalert
    fi
else
    echo "Kept: /etc/frostalert, /var/lib/frostalert, /var/backups/frostalert."
fi
