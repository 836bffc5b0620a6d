#!/bin/sh
# Installs the browser that the page tests drive, on Debian and its relatives.
# Without it these tests are skipped, aloud.
set -eu
apt-get update
apt-get install --yes --no-install-recommends chromium fonts-dejavu-core
chromium --version
