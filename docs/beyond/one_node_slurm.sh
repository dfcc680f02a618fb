#!/bin/sh
# Starts a Slurm cluster of this machine alone, from Debian's packages, to try a job array on; as root, for a machine that is thrown away:
#
#     apt-get install --no-install-recommends slurm-wlm munge && sh docs/beyond/one_node_slurm.sh start
#     sbatch --wait --array=1-16 docs/beyond/slurm_array.sh ...
#     sh docs/beyond/one_node_slurm.sh stop
#
# It replaces slurm.conf. No limits, no accounting, jobs as root: nothing for a cluster that anybody works on.
set -eu
etc=/etc/slurm run=/run/slurm state=/var/lib/slurm-one-node
name=$(hostname -s)

start() {
    mkdir -p "$etc" "$run" "$state/controller" "$state/node" /run/munge
    cat >"$etc/slurm.conf" <<CONF
ClusterName=one
SlurmctldHost=$name(127.0.0.1)
SlurmUser=root
SlurmdUser=root
AuthType=auth/munge
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SelectType=select/cons_tres
JobAcctGatherType=jobacct_gather/none
AccountingStorageType=accounting_storage/none
MpiDefault=none
ReturnToService=2
SlurmctldPidFile=$run/slurmctld.pid
SlurmdPidFile=$run/slurmd.pid
SlurmctldLogFile=$state/slurmctld.log
SlurmdLogFile=$state/slurmd.log
StateSaveLocation=$state/controller
SlurmdSpoolDir=$state/node
NodeName=$name NodeAddr=127.0.0.1 CPUs=$(nproc)
PartitionName=all Nodes=$name Default=YES MaxTime=INFINITE State=UP
CONF
    [ -s /etc/munge/munge.key ] || dd if=/dev/urandom of=/etc/munge/munge.key bs=1024 count=1 2>/dev/null
    chown munge: /etc/munge/munge.key /run/munge
    chmod 400 /etc/munge/munge.key
    runuser -u munge -- munged --pid-file=/run/munge/munged.pid
    slurmctld
    slurmd
    # The node reports after a moment.
    for _ in $(seq 60); do
        if sinfo --noheader --format=%t | grep -q idle; then
            sinfo
            return
        fi
        sleep 1
    done
    echo "the node did not report; see $state/*.log" >&2
    return 1
}

stop() {
    for pid in "$run/slurmd.pid" "$run/slurmctld.pid" /run/munge/munged.pid; do
        [ ! -s "$pid" ] || kill "$(cat "$pid")" || true
    done
}

case ${1-} in
start) start ;;
stop) stop ;;
*)
    echo "usage: $0 start|stop" >&2
    exit 2
    ;;
esac
