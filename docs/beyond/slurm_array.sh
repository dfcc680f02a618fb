#!/bin/sh
# A spread as a job array of a Slurm cluster:
#
#     sbatch --wait --array=1-16 docs/beyond/slurm_array.sh 16 FOLDER spread CAR [PLAN] --station HOURS.csv --draws 100000
#     pullcast spread CAR [PLAN] --station HOURS.csv --draws 100000 --keep FOLDER
#
# FOLDER lies on a disk that the nodes share. The second command joins what the array kept. PULLCAST names the program.
#SBATCH --job-name=spread --output=%x-%A_%a.log
set -eu
shards=$1 folder=$2
shift 2
exec "${PULLCAST:-pullcast}" "$@" --keep "$folder" --shard "$SLURM_ARRAY_TASK_ID/$shards"
