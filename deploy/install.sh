#!/bin/sh
# Install frostalert as a systemd service. Run as root in a clone of the repository:
#   sh deploy/install.sh            shows what it would do, and does nothing
#   sh deploy/install.sh --do-it    does it
# It never writes over a configuration or a password that is there. Every step can be
# done by hand: README.md, beside this file, says how.
set -eu

prefix=/opt/frostalert
etc=/etc/frostalert
units=/etc/systemd/system
here=$(cd "$(dirname "$0")/.." && pwd)

if [ "${1:-}" = "--do-it" ]; then
    step() { echo "+ $*"; "$@"; }
else
    step() { echo "would run: $*"; }
    echo "Nothing is done without --do-it. The steps:"
fi

if [ "${1:-}" = "--do-it" ] && [ "$(id -u)" -ne 0 ]; then
    echo "install.sh: must be run as root" >&2
    exit 1
fi

if ! id frostalert >/dev/null 2>&1; then
    step useradd --system --home-dir /nonexistent --shell /usr/sbin/nologin frostalert
fi
step python3 -m venv "$prefix"
step "$prefix/bin/pip" install --quiet "$here"
step install -d -m 750 -g frostalert "$etc"
if [ ! -e "$etc/frostalert.toml" ]; then
    step install -m 640 -g frostalert "$here/config/orchard.example.toml" \
        "$etc/frostalert.toml"
fi
for secret in smtp-password sms-token; do
    if [ ! -e "$etc/$secret" ]; then
        step install -m 600 /dev/null "$etc/$secret"
    fi
done
for unit in frostalert.service frostalert-web.service frostalert-copy.service \
    frostalert-copy.timer; do
    step install -m 644 "$here/deploy/$unit" "$units/$unit"
done
step install -d -m 700 -o root /var/backups/frostalert
step install -m 755 "$here/deploy/frostalert-command.sh" /usr/local/bin/frostalert
step systemctl daemon-reload

cat <<'NEXT'

Next, as root:
1. Edit /etc/frostalert/frostalert.toml (it is the invented example) and put the mail
   password into /etc/frostalert/smtp-password. Without text messages: remove [sms], the
   channel "sms" and the LoadCredential line of sms-token in the unit.
2. sudo frostalert doctor
3. systemctl enable --now frostalert frostalert-copy.timer
NEXT
