#!/bin/bash
# Runs in the machine once systemd has started everything, and tells what it
# sees, one "name: value" a line, on the second serial port. It judges nothing.
exec >/dev/ttyS1 2>&1

say() { echo "$1: $2"; }
show() { systemctl show -P "$1" headroom; }
up() { cut -d' ' -f1 /proc/uptime; }

# await NAME SECONDS COMMAND...: says after how long the command succeeds.
await() {
	local name=$1 limit=$2 begin=$SECONDS
	shift 2
	until "$@" >/dev/null 2>&1; do
		if ((SECONDS - begin >= limit)); then
			say "$name" "never"
			return 1
		fi
		sleep 0.2
	done
	say "$name" "after $((SECONDS - begin)) s"
}

page() {
	exec 3<>/dev/tcp/127.0.0.1/8080 || return
	printf 'GET %s HTTP/1.0\r\nHost: localhost\r\n\r\n' "$1" >&3
	cat <&3
	exec 3>&-
}
watches() { page / | grep -q 'Simulated: an invented machine'; }
unrecorded() { page / | grep -q 'Nothing is recorded'; }
active() { [ "$(show ActiveState)" = active ]; }
restarted() { [ "$(show NRestarts)" -gt "$1" ] && active; }

await active 120 active
say type "$(show Type)"
say main "$(stat -c %U "/proc/$(show MainPID)")"
say ready_seconds "$(($(show ActiveEnterTimestampMonotonic) / 1000))e-3"
say exec_seconds "$(($(show ExecMainStartTimestampMonotonic) / 1000))e-3"
say status "$(show StatusText)"
say watchdog "$(show WatchdogUSec)"
await page 60 watches
say exposure "$(systemd-analyze security headroom --no-pager | tail -n 1)"
say state "$(stat -c '%U:%G %a' /var/lib/headroom)"
say memory "$(show MemoryCurrent)"

# A GPIO chip of the kernel's own simulator: its group, and whether the locked
# down service may open it; another program of the same lock-down tells.
mount -t configfs none /sys/kernel/config 2>/dev/null
mkdir -p /sys/kernel/config/gpio-sim/board/bank0
echo 8 >/sys/kernel/config/gpio-sim/board/bank0/num_lines
echo 1 >/sys/kernel/config/gpio-sim/board/live
udevadm settle
say chip "$(stat -c '%G %a' /dev/gpiochip0)"
sed -e 's/^Type=.*/Type=oneshot/' -e 's/^Restart=.*/Restart=no/' -e '/^WatchdogSec/d' -e '/Directory=/d' \
	-e 's|^ExecStart=.*|ExecStart=/bin/bash -c "for d in /dev/gpiochip0 /dev/vda /dev/ttyS0; do (: <>$d) 2>/dev/null \&\& echo opens $d; done; /usr/bin/headroom scan; touch /etc/x; true"|' \
	/usr/lib/systemd/system/headroom.service >/run/systemd/system/probe.service
systemctl daemon-reload
systemctl start probe
journalctl -u probe -o cat --no-pager | sed 's/^/probe: /'
say etc "$(test -e /etc/x && echo written || echo untouched)"

# Signs of life come from the tick: with the program stopped none comes, and
# systemd ends and restarts it.
timeouts() { journalctl -u headroom -o cat --no-pager | grep -c 'Watchdog timeout'; }
before=$(show NRestarts) timeouts_before=$(timeouts)
kill -STOP "$(show MainPID)"
begin=$(up)
await watchdog_restart 60 restarted "$before"
say watchdog_took "$(awk "BEGIN { print $(up) - $begin }")"
say watchdog_result "$(($(timeouts) - timeouts_before))"
await page_again 60 watches

# Killed, as by a lack of memory, it comes back.
before=$(show NRestarts)
kill -KILL "$(show MainPID)"
await kill_restart 60 restarted "$before"

# A config that can't be used keeps it trying, and it starts as soon as it can.
cp /etc/headroom/config.toml /root/config.toml
echo nonsense >>/etc/headroom/config.toml
systemctl restart --no-block headroom
sleep 12
say broken "$(show ActiveState)/$(show SubState) $(show Result)"
cp /root/config.toml /etc/headroom/config.toml
await mended 60 active

# The record's own partition is missing: it watches, and says that it can't
# record.
mkdir /data /etc/systemd/system/headroom.service.d
echo 'LABEL=headroom-data /data ext4 noatime,nofail,x-systemd.device-timeout=2s 0 2' >>/etc/fstab
cp /usr/share/doc/headroom/examples/record-partition.conf /etc/systemd/system/headroom.service.d/
sed -i 's|^folder = .*|folder = "/data/headroom"|' /etc/headroom/config.toml
systemctl daemon-reload
systemctl restart --no-block headroom
sleep 3
await no_partition 60 unrecorded
# With the partition it records there. A file in memory stands for it.
mount -t tmpfs none /data
install -d -o headroom -g headroom -m 0750 /data/headroom
systemctl restart headroom
await partition 60 test -s /data/headroom/record.db
cp /root/config.toml /etc/headroom/config.toml
rm -r /etc/systemd/system/headroom.service.d
systemctl daemon-reload
systemctl restart headroom
await back 60 active

# Upgrade, refused downgrade, removal, purge, with systemd at work.
old=$(show MainPID)
dpkg -i /root/newer.deb >/root/log 2>&1
say upgrade "$? $(dpkg-query -W -f '${Version}' headroom)"
await upgraded 60 active
say new_process "$([ "$(show MainPID)" != "$old" ] && echo yes)"
dpkg -i /root/older.deb >/root/log 2>&1
say downgrade "$? $(dpkg-query -W -f '${Version}' headroom) $(show ActiveState)"
say reason "$(grep -c 'is older than' /root/log)"
systemctl disable --quiet headroom
dpkg -i /root/newer.deb >/root/log 2>&1
say disabled_stays "$(systemctl is-enabled headroom)"
say records "$(find /var/lib/headroom -name record.db | wc -l)"
dpkg --remove headroom >/root/log 2>&1
say removed "$? $(systemctl is-active headroom)"
say records_kept "$(find /var/lib/headroom -name record.db | wc -l)"
dpkg --purge headroom >/root/log 2>&1
say purged "$? $(ls -d /var/lib/headroom /etc/headroom 2>/dev/null | wc -l)"
say failed "$(systemctl list-units --failed --plain --no-legend | cut -d' ' -f1 | tr '\n' ' ')"
say end ok
systemctl poweroff --force --force
