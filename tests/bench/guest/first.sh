#!/bin/busybox sh
# The virtual PC's first process: loads what reaches the root and the share, and goes on from there.
B=/bin/busybox
$B mount -t proc p /proc; $B mount -t sysfs s /sys; $B mount -t devtmpfs d /dev
for module in /modules/*.ko; do $B insmod "$module"; done
tries=0
while [ ! -b /dev/vda ] && [ $tries -lt 200 ]; do $B usleep 20000; tries=$((tries + 1)); done
$B mount -t squashfs -o ro /dev/vda /read-only
$B mount -t tmpfs -o size=70% t /written
$B mkdir /written/upper /written/work
$B mount -t overlay -o lowerdir=/read-only,upperdir=/written/upper,workdir=/written/work o /system
$B mkdir -p /system/mnt/share
$B mount -t 9p -o trans=virtio,version=9p2000.L,msize=1048576 share /system/mnt/share
for folder in proc sys dev; do $B mount --move /$folder /system/$folder; done
exec $B switch_root /system /sbin/bench-start
