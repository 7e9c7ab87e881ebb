from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0003_photo_part"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveConstraint(model_name="photopart", name="fleet_photopart_start_once"),
        migrations.RenameField(model_name="photopart", old_name="person", new_name="sender"),
        migrations.AlterField(model_name="photopart", name="sender", field=models.UUIDField()),
        migrations.AlterModelOptions(
            name="photopart", options={"ordering": ["sha256", "sender", "start"]}
        ),
        migrations.AddConstraint(
            model_name="photopart",
            constraint=models.UniqueConstraint(
                fields=("sha256", "sender", "start"),
                name="fleet_photopart_start_once",
                violation_error_message="These bytes of the photo are here already.",
            ),
        ),
    ]
