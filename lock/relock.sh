#!/bin/sh
# Make both lock files anew from pyproject.toml (needs uv; only for those who change dependencies).
set -eu
cd "$(dirname "$0")/.."
printf 'hatchling\neditables\n' > lock/build.in
for kind in base dev; do
  extra=""; [ "$kind" = dev ] && extra="--extra dev"
  # shellcheck disable=SC2086
  uv pip compile pyproject.toml lock/build.in $extra --universal --python-version 3.11 \
    --generate-hashes --no-emit-index-url --no-annotate --no-header -q -o "lock/$kind.txt"
done
rm lock/build.in
