#!/bin/sh
# A spread in shards by GNU parallel, on this machine or on others with a shared disk (--sshlogin), then joined:
#
#     sh docs/beyond/parallel.sh SHARDS FOLDER spread CAR [PLAN] --station HOURS.csv --draws 100000 > answer
#
# FOLDER keeps the parts; what is killed goes on from there when the same is called again. PULLCAST names the program.
set -eu
shards=$1 folder=$2
shift 2
program=${PULLCAST:-pullcast}
# A shard uses every core of its machine: one at a time there.
seq "$shards" | parallel --jobs 1 --halt soon,fail=1 "$program" "$@" --keep "$folder" --shard "{}/$shards" 1>&2
exec "$program" "$@" --keep "$folder"
