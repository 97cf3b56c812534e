# What brings readings by itself, and who may come in: the pages Feeds, Devices and links, and pairing a device.

feeds-to-settings = Back to Settings

# The page Devices and links.
feeds-devices-title = Devices and links
# `devices` is 0, 1 or more.
feeds-devices-home = { $devices ->
    [0] The app is open on the home network, and no device is paired.
    [1] The app is open on the home network, and one device is paired.
   *[other] The app is open on the home network, and { $devices } devices are paired.
}
feeds-devices-alone = { $devices ->
    [0] The app is open on this machine alone, and no device is paired. Start it with --home to let devices in.
    [1] The app is open on this machine alone, and one device is paired. Start it with --home to let devices in.
   *[other] The app is open on this machine alone, and { $devices } devices are paired. Start it with --home to let devices in.
}
feeds-devices-heading = Devices
feeds-devices-none = No device is paired.
feeds-devices-help = A device is paired with a code that the terminal shows once and the passphrase. It stays so for 180 days, and not without being seen for 30.
feeds-device-line = paired { $paired }, seen { $seen }
feeds-device-until = comes in until { $until }
feeds-device-out = Put out
feeds-links-heading = Links to one page
feeds-links-none = There is none.
feeds-links-days = Days a new link to the visit sheet is good for
feeds-links-submit = Make a link
feeds-links-help = Whoever has it sees the visit sheet of the last 90 days as it is then, and nothing else, where this app is reached. It can be ended at any time.
feeds-link-sheet = Visit sheet
feeds-link-line = made { $made }, good until { $until }
feeds-link-end = End it
feeds-link-new = The new link, shown this once:
# An address follows.
feeds-link-address = The address of this app, then
feeds-link-look = Look at what it shows
feeds-link-title = Visit, { $window }

# Pairing a device.
feeds-pair-title = Pair this device
feeds-pair-answer = This device is not paired with the app yet.
feeds-pair-code = The code the terminal shows
feeds-pair-passphrase = The passphrase
feeds-pair-name = A name for this device, to know it by
feeds-pair-submit = Pair it
feeds-pair-already = It is a device you paired already? Then [go on]; where that leads back here, its time is over or it was put out.
feeds-pair-certificate = [The certificate of this app], for a device that is to trust it: compare its fingerprint with the one on the terminal first.
